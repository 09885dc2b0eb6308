/* Fails or kills the process at the n-th open, write, fsync or rename below one folder: what a full, broken or
   read-only disk and a power cut do to a program. Loaded before libc by run_faults.py; Python and DuckDB both go
   through it. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

enum { OPEN, WRITE, SYNC, NAME, KINDS };
static char root[4096];
static atomic_long seen[KINDS];
static int kind_wanted = -1, fault_errno, sticky; /* errno 0: kill */
static long at;
static unsigned char ours[65536];

void fault_arm(const char *folder, int kind, long n, int number, int stays) {
    strncpy(root, folder, sizeof root - 1);
    for (int k = 0; k < KINDS; k++) atomic_store(&seen[k], 0);
    kind_wanted = kind; at = n; fault_errno = number; sticky = stays;
}
void fault_disarm(void) { root[0] = 0; }
long fault_seen(int kind) { return atomic_load(&seen[kind]); }

static int below(const char *path) {
    if (!root[0] || !path) return 0;
    if (path[0] != '/') {
        char cwd[4096];
        return getcwd(cwd, sizeof cwd) && strncmp(cwd, root, strlen(root)) == 0;
    }
    return strncmp(path, root, strlen(root)) == 0;
}
static int fails(int kind) {
    long n = atomic_fetch_add(&seen[kind], 1) + 1;
    if (kind != kind_wanted || (sticky ? n < at : n != at)) return 0;
    if (fault_errno == 0) kill(getpid(), SIGKILL);
    errno = fault_errno;
    return 1;
}
static int held(int fd) { return root[0] && fd >= 0 && fd < (int)sizeof ours && ours[fd]; }
static int opened(int fd, const char *path) {
    if (fd >= 0 && fd < (int)sizeof ours) ours[fd] = below(path);
    return fd;
}
#define REAL(name) static __typeof__(name) *real; if (!real) real = dlsym(RTLD_NEXT, #name)
#define MODE(flags) mode_t mode = 0; if (flags & (O_CREAT | O_TMPFILE)) { va_list l; va_start(l, flags); mode = va_arg(l, mode_t); va_end(l); }

int open(const char *p, int flags, ...) { MODE(flags) REAL(open); if (below(p) && fails(OPEN)) return -1; return opened(real(p, flags, mode), p); }
int open64(const char *p, int flags, ...) { MODE(flags) REAL(open64); if (below(p) && fails(OPEN)) return -1; return opened(real(p, flags, mode), p); }
int openat(int d, const char *p, int flags, ...) { MODE(flags) REAL(openat); if (below(p) && fails(OPEN)) return -1; return opened(real(d, p, flags, mode), p); }
int openat64(int d, const char *p, int flags, ...) { MODE(flags) REAL(openat64); if (below(p) && fails(OPEN)) return -1; return opened(real(d, p, flags, mode), p); }
int close(int fd) { REAL(close); if (fd >= 0 && fd < (int)sizeof ours) ours[fd] = 0; return real(fd); }
ssize_t write(int fd, const void *b, size_t n) { REAL(write); if (held(fd) && fails(WRITE)) return -1; return real(fd, b, n); }
ssize_t pwrite(int fd, const void *b, size_t n, off_t o) { REAL(pwrite); if (held(fd) && fails(WRITE)) return -1; return real(fd, b, n, o); }
ssize_t pwrite64(int fd, const void *b, size_t n, off64_t o) { REAL(pwrite64); if (held(fd) && fails(WRITE)) return -1; return real(fd, b, n, o); }
ssize_t writev(int fd, const struct iovec *v, int n) { REAL(writev); if (held(fd) && fails(WRITE)) return -1; return real(fd, v, n); }
int ftruncate(int fd, off_t n) { REAL(ftruncate); if (held(fd) && fails(WRITE)) return -1; return real(fd, n); }
int ftruncate64(int fd, off64_t n) { REAL(ftruncate64); if (held(fd) && fails(WRITE)) return -1; return real(fd, n); }
int fsync(int fd) { REAL(fsync); if (held(fd) && fails(SYNC)) return -1; return real(fd); }
int fdatasync(int fd) { REAL(fdatasync); if (held(fd) && fails(SYNC)) return -1; return real(fd); }
int rename(const char *a, const char *b) { REAL(rename); if (below(b) && fails(NAME)) return -1; return real(a, b); }
int renameat(int d, const char *a, int e, const char *b) { REAL(renameat); if (below(b) && fails(NAME)) return -1; return real(d, a, e, b); }
int link(const char *a, const char *b) { REAL(link); if (below(b) && fails(NAME)) return -1; return real(a, b); }
int linkat(int d, const char *a, int e, const char *b, int f) { REAL(linkat); if (below(b) && fails(NAME)) return -1; return real(d, a, e, b, f); }
int mkdir(const char *p, mode_t m) { REAL(mkdir); if (below(p) && fails(NAME)) return -1; return real(p, m); }
