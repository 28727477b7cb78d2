#include "report/files/atomic_file.h"

#include <fcntl.h>
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

// The file while it is written: without a name where the file system can do that, so that a program
// killed meanwhile leaves nothing; else beside the target. Gone unless the rename succeeded.
class Neighbour {
 public:
  explicit Neighbour(const fs::path& target)
      : path_(target.string() + ".part-" + std::to_string(::getpid())) {
    const std::string& name = path_.native();
    if (name.size() >= half_written_name.size()) fail(target, "the name is too long");
    std::memcpy(half_written_name.data(), name.c_str(), name.size() + 1);
    const fs::path folder = target.has_parent_path() ? target.parent_path() : fs::path(".");
    nameless_ = ::open(folder.c_str(), O_TMPFILE | O_WRONLY | O_CLOEXEC, 0666);
    // Without /proc it could not be given a name later.
    if (nameless_ >= 0 && ::access(open_file().c_str(), F_OK) != 0) {
      ::close(nameless_);
      nameless_ = -1;
    }
    if (nameless_ < 0) half_written = 1;
  }
  ~Neighbour() {
    if (nameless_ >= 0) ::close(nameless_);
    std::error_code ignored;
    if (half_written != 0 && !kept_) fs::remove(path_, ignored);
    half_written = 0;
  }
  Neighbour(const Neighbour&) = delete;
  Neighbour& operator=(const Neighbour&) = delete;
  // What to open for writing.
  fs::path path() const { return nameless_ < 0 ? path_ : open_file(); }
  void rename_to(const fs::path& target) {
    if (nameless_ >= 0) give_a_name(target);
    std::error_code failure;
    fs::rename(path_, target, failure);
    if (failure) fail(target, failure.message());
    kept_ = true;
  }

 private:
  fs::path open_file() const { return "/proc/self/fd/" + std::to_string(nameless_); }
  // A link cannot take the place of a file, so it is made beside it first.
  void give_a_name(const fs::path& target) {
    half_written = 1;
    ::unlink(path_.c_str());  // of an earlier process of this number
    if (::linkat(AT_FDCWD, open_file().c_str(), AT_FDCWD, path_.c_str(), AT_SYMLINK_FOLLOW) != 0)
      fail(target, std::strerror(errno));
  }

  fs::path path_;
  int nameless_ = -1;
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
