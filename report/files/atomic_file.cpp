#include "report/files/atomic_file.h"

#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <fstream>
#include <system_error>

namespace proveout::files {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void fail(const fs::path& path, const std::string& why) {
  throw WriteError("cannot write " + path.string() + ": " + why);
}

// Removes the half-written neighbour unless the rename succeeded.
class Neighbour {
 public:
  explicit Neighbour(const fs::path& target)
      : path_(target.string() + ".part-" + std::to_string(::getpid())) {}
  ~Neighbour() {
    std::error_code ignored;
    if (!kept_) fs::remove(path_, ignored);
  }
  Neighbour(const Neighbour&) = delete;
  Neighbour& operator=(const Neighbour&) = delete;
  const fs::path& path() const { return path_; }
  void rename_to(const fs::path& target) {
    std::error_code failure;
    fs::rename(path_, target, failure);
    if (failure) fail(target, failure.message());
    kept_ = true;
  }

 private:
  fs::path path_;
  bool kept_ = false;
};

}  // namespace

void write_whole(const fs::path& path, const std::function<void(std::ostream&)>& fill) {
  std::error_code failure;
  if (fs::is_directory(path, failure)) fail(path, "a folder has this name");
  Neighbour neighbour(path);
  errno = 0;
  std::ofstream stream(neighbour.path(), std::ios::binary | std::ios::trunc);
  if (!stream) fail(path, std::strerror(errno));
  fill(stream);
  stream.close();
  if (!stream) fail(path, errno != 0 ? std::strerror(errno) : "the disk may be full");
  neighbour.rename_to(path);
}

void write_whole(const fs::path& path, std::string_view bytes) {
  write_whole(path, [&](std::ostream& stream) {
    stream.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  });
}

void make_folder(const fs::path& path) {
  std::error_code failure;
  fs::create_directories(path, failure);
  if (failure || !fs::is_directory(path, failure)) {
    fail(path, failure ? failure.message() : "a file has this name");
  }
}

}  // namespace proveout::files
