// Work on no more threads than were asked for.
#pragma once

#include <tbb/task_arena.h>

namespace proveout::stock {

// What work() returns. threads: 0 or less: as many as there are.
template <class Work>
auto on_threads(int threads, const Work& work) {
  return threads > 0 ? tbb::task_arena(threads).execute(work) : work();
}

}  // namespace proveout::stock
