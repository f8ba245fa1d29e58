/* Loaded before the C library (ld.so(8), LD_PRELOAD): counts the calls of this process that
 * touch files, and ends it by SIGKILL just before the one that was asked for. */

#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

static long left = -1;
static long made = 0;

/* End before the n-th call from now on; 0 counts only, negative stops counting. */
void kill_at_call(long n) { left = n; made = 0; }

long calls_made(void) { return made; }

static void count(void) {
    if (left < 0) return;
    made++;
    if (left > 0 && made == left) kill(getpid(), SIGKILL);
}

#define NEXT(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))
#define WRAP(type, name, declared, given) \
    type name declared { static __typeof__(&name) real; real = NEXT(name); \
        count(); return real given; }

WRAP(ssize_t, read, (int f, void *b, size_t n), (f, b, n))
WRAP(ssize_t, pread, (int f, void *b, size_t n, off_t o), (f, b, n, o))
WRAP(ssize_t, pread64, (int f, void *b, size_t n, off64_t o), (f, b, n, o))
WRAP(ssize_t, write, (int f, const void *b, size_t n), (f, b, n))
WRAP(ssize_t, pwrite, (int f, const void *b, size_t n, off_t o), (f, b, n, o))
WRAP(ssize_t, pwrite64, (int f, const void *b, size_t n, off64_t o), (f, b, n, o))
WRAP(int, fsync, (int f), (f))
WRAP(int, fdatasync, (int f), (f))
WRAP(int, ftruncate, (int f, off_t n), (f, n))
WRAP(int, ftruncate64, (int f, off64_t n), (f, n))
WRAP(int, close, (int f), (f))
WRAP(int, unlink, (const char *p), (p))
WRAP(int, rename, (const char *a, const char *b), (a, b))
WRAP(int, mkdir, (const char *p, mode_t m), (p, m))
WRAP(int, rmdir, (const char *p), (p))
WRAP(int, chmod, (const char *p, mode_t m), (p, m))
WRAP(int, fchmod, (int f, mode_t m), (f, m))

static mode_t mode_of(int flags, va_list rest) {
    return flags & (O_CREAT | O_TMPFILE) ? va_arg(rest, mode_t) : 0;
}

#define OPEN(name) \
    int name(const char *p, int flags, ...) { static __typeof__(&name) real; va_list rest; \
        real = NEXT(name); va_start(rest, flags); mode_t m = mode_of(flags, rest); \
        va_end(rest); count(); return real(p, flags, m); }
#define OPENAT(name) \
    int name(int at, const char *p, int flags, ...) { static __typeof__(&name) real; va_list rest; \
        real = NEXT(name); va_start(rest, flags); mode_t m = mode_of(flags, rest); \
        va_end(rest); count(); return real(at, p, flags, m); }
#define FCNTL(name) \
    int name(int f, int what, ...) { static __typeof__(&name) real; va_list rest; \
        real = NEXT(name); va_start(rest, what); void *with = va_arg(rest, void *); \
        va_end(rest); count(); return real(f, what, with); }

OPEN(open)
OPEN(open64)
OPENAT(openat)
OPENAT(openat64)
FCNTL(fcntl)
FCNTL(fcntl64)
