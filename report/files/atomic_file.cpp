#include "report/files/atomic_file.h"

#include <unistd.h>

#include <array>
#include <cerrno>
#include <csignal>
#include <cstring>
#include <fstream>
#include <system_error>

namespace proveout::files {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void fail(const fs::path& path, const std::string& why) {
  throw WriteError("cannot write " + path.string() + ": " + why);
}

// Name of the half-written neighbour, where a signal handler may read it: no allocation, and
// half_written is set last and cleared first. One file is written at a time.
std::array<char, 4096> half_written_name;
volatile std::sig_atomic_t half_written = 0;

// Removes the half-written neighbour unless the rename succeeded.
class Neighbour {
 public:
  explicit Neighbour(const fs::path& target)
      : path_(target.string() + ".part-" + std::to_string(::getpid())) {
    const std::string& name = path_.native();
    if (name.size() >= half_written_name.size()) fail(target, "the name is too long");
    std::memcpy(half_written_name.data(), name.c_str(), name.size() + 1);
    half_written = 1;
  }
  ~Neighbour() {
    std::error_code ignored;
    if (!kept_) fs::remove(path_, ignored);
    half_written = 0;
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

// A device or a pipe is written to as it is: renaming a file over it would replace it.
void write_through(const fs::path& path, const std::function<void(std::ostream&)>& fill) {
  errno = 0;
  std::ofstream stream(path, std::ios::binary);
  if (stream) fill(stream);
  stream.close();
  if (!stream) fail(path, errno != 0 ? std::strerror(errno) : "it takes no more");
}

}  // namespace

void remove_half_written() noexcept {
  if (half_written != 0) ::unlink(half_written_name.data());
}

void write_whole(const fs::path& path, const std::function<void(std::ostream&)>& fill) {
  std::error_code failure;
  const fs::file_type type = fs::status(path, failure).type();
  if (type == fs::file_type::directory) fail(path, "a folder has this name");
  if (type != fs::file_type::regular && type != fs::file_type::not_found) {
    return write_through(path, fill);
  }
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
