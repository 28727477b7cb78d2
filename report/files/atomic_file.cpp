#include "report/files/atomic_file.h"

#include <fcntl.h>
#include <sys/resource.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <system_error>
#include <utility>
#include <vector>

namespace proveout::files {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void fail(const fs::path& path, const std::string& why) {
  throw WriteError("cannot write " + path.string() + ": " + why);
}

// What a signal handler may have to take away: names beside their targets. No allocation there, so
// it is a list whose head is set last, and an entry stays in it, marked, until the set is gone.
struct PartName {
  std::string name;
  PartName* next;
  std::atomic<bool> there{false};
};
std::atomic<PartName*> part_names{nullptr};

// Names are given or the process ends, never both: a handler may run in any thread.
enum class State { open, naming, ending };
std::atomic<State> state{State::open};
std::atomic<int> written{0};
static_assert(std::atomic<State>::is_always_lock_free && std::atomic<int>::is_always_lock_free &&
              std::atomic<PartName*>::is_always_lock_free);

class Naming {
 public:
  Naming() {
    State expected = State::open;
    // A handler in another thread is ending the process.
    while (!state.compare_exchange_strong(expected, State::naming)) ::pause();
  }
  ~Naming() { state = State::open; }
  Naming(const Naming&) = delete;
  Naming& operator=(const Naming&) = delete;
};

// So many files are held open at most: a quarter of what the process may have in all.
int most_nameless() {
  rlimit open_files{};
  if (::getrlimit(RLIMIT_NOFILE, &open_files) != 0) return 64;
  return static_cast<int>(std::min<rlim_t>(256, open_files.rlim_cur / 4));
}
int nameless_now = 0;

// The file while it is written: without a name where the file system can do that, so that a program
// killed meanwhile leaves nothing; else beside the target. Gone unless the rename succeeded.
class Neighbour {
 public:
  Neighbour(const fs::path& target, std::size_t number) : target_(target) {
    part_.name =
        target.string() + ".part-" + std::to_string(::getpid()) + "-" + std::to_string(number);
    if (nameless_now < most_nameless()) open_nameless();
    if (nameless_ < 0) part_.there = true;
    part_.next = part_names;
    part_names = &part_;  // last: from here on a handler finds it
  }
  // The newest goes first (FileSet::Files), so the head is always this one.
  ~Neighbour() {
    close_nameless();
    if (part_.there) ::unlink(part_.name.c_str());
    part_names = part_.next;
  }
  Neighbour(const Neighbour&) = delete;
  Neighbour& operator=(const Neighbour&) = delete;
  const fs::path& target() const { return target_; }
  // What to open for writing.
  fs::path path() const { return nameless_ < 0 ? fs::path(part_.name) : open_file(); }
  // A link cannot take the place of a file, so it is made beside it first.
  void name_beside() {
    if (nameless_ < 0) return;
    part_.there = true;
    ::unlink(part_.name.c_str());  // of an earlier process of this number
    if (::linkat(AT_FDCWD, open_file().c_str(), AT_FDCWD, part_.name.c_str(), AT_SYMLINK_FOLLOW) !=
        0)
      fail(target_, std::strerror(errno));
  }
  void take_place() {
    std::error_code failure;
    fs::rename(part_.name, target_, failure);
    if (failure) fail(target_, failure.message());
    part_.there = false;
    ++written;
  }

 private:
  fs::path open_file() const { return "/proc/self/fd/" + std::to_string(nameless_); }
  void open_nameless() {
    const fs::path folder = target_.has_parent_path() ? target_.parent_path() : fs::path(".");
    nameless_ = ::open(folder.c_str(), O_TMPFILE | O_WRONLY | O_CLOEXEC, 0666);
    if (nameless_ < 0) return;
    ++nameless_now;
    // Without /proc it could not be given a name later.
    if (::access(open_file().c_str(), F_OK) != 0) close_nameless();
  }
  void close_nameless() {
    if (nameless_ < 0) return;
    ::close(nameless_);
    nameless_ = -1;
    --nameless_now;
  }

  fs::path target_;
  PartName part_;
  int nameless_ = -1;
};

// A device or a pipe is written to as it is: renaming a file over it would replace it.
void write_through(const fs::path& path, const std::function<void(std::ostream&)>& fill) {
  errno = 0;
  std::ofstream stream(path, std::ios::binary);
  if (stream) fill(stream);
  stream.close();
  if (!stream) fail(path, errno != 0 ? std::strerror(errno) : "it takes no more");
}

// Into the file at place, which is to become the one at path.
void fill_file(const fs::path& place, const fs::path& path,
               const std::function<void(std::ostream&)>& fill) {
  errno = 0;
  std::ofstream stream(place, std::ios::binary | std::ios::trunc);
  if (!stream) fail(path, std::strerror(errno));
  fill(stream);
  stream.close();
  if (!stream) fail(path, errno != 0 ? std::strerror(errno) : "the disk may be full");
}

FileSet* current = nullptr;

}  // namespace

struct FileSet::Files {
  std::function<void()> look;
  FileSet* before = nullptr;  // that this one stands in for
  std::vector<std::unique_ptr<Neighbour>> all;
  ~Files() {
    while (!all.empty()) all.pop_back();
  }
};

FileSet::FileSet(std::function<void()> look) : files_(std::make_unique<Files>()) {
  files_->look = std::move(look);
  files_->before = std::exchange(current, this);
}

FileSet::~FileSet() { current = files_->before; }

void FileSet::commit() {
  if (files_->look) files_->look();
  const Naming naming;
  // Whatever can be refused (a full disk) is refused here, before the first name changes hands.
  for (const auto& file : files_->all) file->name_beside();
  std::size_t placed = 0;
  try {
    for (; placed < files_->all.size(); ++placed) files_->all[placed]->take_place();
  } catch (const WriteError& e) {
    if (placed == 0) throw;
    throw WriteError(std::string(e.what()) + "; " + std::to_string(placed) + " of the " +
                     std::to_string(files_->all.size()) + " results are already this run's");
  }
}

int files_written() noexcept { return written; }

bool may_end() noexcept {
  State expected = State::open;
  return state.compare_exchange_strong(expected, State::ending) || expected == State::ending;
}

void remove_half_written() noexcept {
  for (const PartName* part = part_names; part != nullptr; part = part->next)
    if (part->there) ::unlink(part->name.c_str());
}

void write_whole(const fs::path& path, const std::function<void(std::ostream&)>& fill) {
  if (current == nullptr) {
    FileSet alone;
    write_whole(path, fill);
    return alone.commit();
  }
  FileSet::Files& set = *current->files_;
  if (set.look) set.look();
  std::error_code failure;
  const fs::file_type type = fs::status(path, failure).type();
  if (type == fs::file_type::directory) fail(path, "a folder has this name");
  if (type != fs::file_type::regular && type != fs::file_type::not_found) {
    return write_through(path, fill);
  }
  set.all.push_back(std::make_unique<Neighbour>(path, set.all.size()));
  try {
    fill_file(set.all.back()->path(), path, fill);
  } catch (...) {
    set.all.pop_back();  // nobody may commit half a file
    throw;
  }
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
