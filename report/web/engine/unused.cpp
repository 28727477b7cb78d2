// What the libraries name and never call here; every other symbol must be there, or the link fails.
#include <sys/shm.h>
#include <ucontext.h>

#include <cerrno>
#include <cstdlib>

extern "C" {

// The thread library switches stacks to resume a task that was suspended. Nothing suspends tasks
// (tbb::task::suspend), and WebAssembly cannot switch stacks.
int getcontext(ucontext_t*) {
  errno = ENOSYS;
  return -1;
}
void makecontext(ucontext_t*, void (*)(), int, ...) { std::abort(); }
int swapcontext(ucontext_t*, const ucontext_t*) { std::abort(); }

// The library of mapped files also maps System V's shared memory, which nothing asks of it.
int shmdt(const void*) {
  errno = ENOSYS;
  return -1;
}
}
