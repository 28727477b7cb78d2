// How the process stands in its system: what it must see to before a command runs.
#pragma once

namespace proveout::cli {

// Opens the standard descriptors that the parent has closed, so that no file takes their numbers,
// sees to signals, keeps to as many threads as the system lets this process start, and lets
// failures that no exception can carry end in exit status 3 with words. For main alone, first of
// all.
void prepare_process();

// From here on the whole process works on that many threads at most, where that is fewer than
// before prepare_process() found; 0: as many as it found. Not while anything works on threads.
void use_no_more_threads_than(int threads);

}  // namespace proveout::cli
