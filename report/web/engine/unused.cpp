// What the thread library names and never calls here: it would switch stacks to resume a task that
// was suspended, and nothing suspends tasks (tbb::task::suspend). WebAssembly cannot switch stacks.
#include <ucontext.h>

#include <cerrno>
#include <cstdlib>

extern "C" {

int getcontext(ucontext_t*) {
  errno = ENOSYS;
  return -1;
}
void makecontext(ucontext_t*, void (*)(), int, ...) { std::abort(); }
int swapcontext(ucontext_t*, const ucontext_t*) { std::abort(); }
}
