/* A wall clock that can be set for some processes alone: TESTS_CLOCK names a file of one 64-bit number, the
   seconds to add. Shared memory, so a jump is seen by everybody at once. Clocks that measure durations stay true. */
#define _GNU_SOURCE
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static volatile int64_t *ahead_s;

__attribute__((constructor)) static void map_offset(void) {
    const char *name = getenv("TESTS_CLOCK");
    int file = name ? open(name, O_RDONLY | O_CLOEXEC) : -1;
    void *seen = file >= 0 ? mmap(NULL, sizeof *ahead_s, PROT_READ, MAP_SHARED, file, 0) : MAP_FAILED;
    ahead_s = seen == MAP_FAILED ? NULL : seen;
    if (file >= 0) close(file);
}

int clock_gettime(clockid_t which, struct timespec *at) {
    int failed = (int)syscall(SYS_clock_gettime, which, at);
    if (!failed && ahead_s && (which == CLOCK_REALTIME || which == CLOCK_REALTIME_COARSE)) at->tv_sec += *ahead_s;
    return failed;
}

int gettimeofday(struct timeval *restrict at, void *restrict zone) {
    struct timespec now;
    (void)zone;
    clock_gettime(CLOCK_REALTIME, &now);
    at->tv_sec = now.tv_sec;
    at->tv_usec = now.tv_nsec / 1000;
    return 0;
}

time_t time(time_t *at) {
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    if (at) *at = now.tv_sec;
    return now.tv_sec;
}
