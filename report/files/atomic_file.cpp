#include "report/files/atomic_file.h"

#include <fcntl.h>
#include <sys/resource.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <mutex>
#include <set>
#include <system_error>

namespace proveout::files {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void fail(const fs::path& path, const std::string& why) {
  throw WriteError("cannot write " + path.string() + ": " + why);
}

// What an early end of the process must know, of all sets together: a process has one end.
struct Unfinished {
  std::mutex mutex;              // held while names are given, and for good by stop_writing
  std::set<std::string> beside;  // files that stand beside the names they are to get
  int named = 0;
};
Unfinished& unfinished() {
  static Unfinished& never_destroyed = *new Unfinished;  // the end may come during exit
  return never_destroyed;
}

// So many files are held open at most: a quarter of what the process may have in all.
std::size_t most_nameless() {
  rlimit open_files{};
  if (::getrlimit(RLIMIT_NOFILE, &open_files) != 0) return 64;
  return static_cast<std::size_t>(std::min<rlim_t>(256, open_files.rlim_cur / 4));
}

// A device or a pipe is written to as it is: renaming a file over it would replace it.
void fill_file(const fs::path& place, const fs::path& path,
               const std::function<void(std::ostream&)>& fill) {
  errno = 0;
  std::ofstream stream(place, std::ios::binary);
  if (stream) fill(stream);
  stream.close();
  if (!stream) fail(path, errno != 0 ? std::strerror(errno) : "the disk may be full");
}

}  // namespace

// A file while it is written: without a name where the file system can do that, so that a program
// killed meanwhile leaves nothing; else beside the target.
class FileSet::File {
 public:
  File(const fs::path& target, std::size_t number, bool nameless)
      : target_(target),
        beside_(target.string() + ".part-" + std::to_string(::getpid()) + "-" +
                std::to_string(number)) {
    const fs::path folder = target.has_parent_path() ? target.parent_path() : fs::path(".");
    if (nameless) nameless_ = ::open(folder.c_str(), O_TMPFILE | O_WRONLY | O_CLOEXEC, 0666);
    // Without /proc it could not be given a name later.
    if (nameless_ < 0 || ::access(place().c_str(), F_OK) != 0) {
      close();
      stands_beside(std::lock_guard(unfinished().mutex));
    }
  }
  ~File() {
    close();
    if (!stands_) return;
    const std::lock_guard lock(unfinished().mutex);
    ::unlink(beside_.c_str());
    unfinished().beside.erase(beside_);
  }
  // What to open for writing.
  fs::path place() const {
    return nameless_ < 0 ? beside_ : "/proc/self/fd/" + std::to_string(nameless_);
  }

  using Held = std::lock_guard<std::mutex>;
  // A link cannot take the place of a file, so it is made beside it first.
  void name_beside(const Held& held) {
    if (nameless_ < 0) return;
    ::unlink(beside_.c_str());  // of an earlier process of this number
    if (::linkat(AT_FDCWD, place().c_str(), AT_FDCWD, beside_.c_str(), AT_SYMLINK_FOLLOW) != 0)
      fail(target_, std::strerror(errno));
    stands_beside(held);
  }
  void take_place(const Held&) {
    std::error_code failure;
    fs::rename(beside_, target_, failure);
    if (failure) fail(target_, failure.message());
    unfinished().beside.erase(beside_);
    stands_ = false;
    ++unfinished().named;
  }

 private:
  void stands_beside(const Held&) {
    unfinished().beside.insert(beside_);
    stands_ = true;
  }
  void close() {
    if (nameless_ >= 0) ::close(nameless_);
    nameless_ = -1;
  }

  fs::path target_;
  std::string beside_;
  int nameless_ = -1;
  bool stands_ = false;
};

FileSet::FileSet(std::function<void()> look) : look_(std::move(look)) {}
FileSet::~FileSet() = default;

void FileSet::write(const fs::path& path, const std::function<void(std::ostream&)>& fill) {
  if (look_) look_();
  std::error_code failure;
  const fs::file_type type = fs::status(path, failure).type();
  if (type == fs::file_type::directory) fail(path, "a folder has this name");
  if (type != fs::file_type::regular && type != fs::file_type::not_found)
    return fill_file(path, path, fill);
  auto file = std::make_unique<File>(path, files_.size(), files_.size() < most_nameless());
  fill_file(file->place(), path, fill);
  files_.push_back(std::move(file));
}

void FileSet::write(const fs::path& path, std::string_view bytes) {
  write(path, [&](std::ostream& stream) {
    stream.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  });
}

void FileSet::commit() {
  if (look_) look_();
  std::size_t placed = 0;
  try {
    const std::lock_guard held(unfinished().mutex);
    // Whatever can be refused (a full disk) is refused here, before the first name changes hands.
    for (const auto& file : files_) file->name_beside(held);
    for (; placed < files_.size(); ++placed) files_[placed]->take_place(held);
  } catch (const WriteError& e) {
    if (placed == 0) throw;
    throw WriteError(std::string(e.what()) + "; " + std::to_string(placed) + " of the " +
                     std::to_string(files_.size()) + " results are already this run's");
  }
}

void write_whole(const fs::path& path, std::string_view bytes) {
  FileSet alone;
  alone.write(path, bytes);
  alone.commit();
}

int files_written() noexcept { return unfinished().named; }

void stop_writing(bool wait) noexcept {
  if (wait)
    unfinished().mutex.lock();
  else if (!unfinished().mutex.try_lock())
    return;
  for (const std::string& name : unfinished().beside) ::unlink(name.c_str());
}

void make_folder(const fs::path& path) {
  std::error_code failure;
  fs::create_directories(path, failure);
  if (failure || !fs::is_directory(path, failure)) {
    fail(path, failure ? failure.message() : "a file has this name");
  }
}

}  // namespace proveout::files
