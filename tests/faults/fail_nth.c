/* Preloaded into the program (LD_PRELOAD): the n-th call of one kind fails, once or from then on.
 *   FAIL_KIND     write, rename, open or memory
 *   FAIL_NTH      1, 2, ... counted from main() on
 *   FAIL_AFTER    when set, every later call of the kind fails too
 *   FAIL_MARK     a file that is made when the call was reached
 * A run without the mark had fewer calls: all of them have been tried. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

static const char *kind = "", *mark;
static long nth;
static int after, active;
static atomic_long count;

/* Whether this call of a kind fails. */
static int fails(const char *of) {
  if (!active || strcmp(kind, of) != 0) return 0;
  const long number = atomic_fetch_add(&count, 1) + 1;
  if (number != nth && !(after && number > nth)) return 0;
  if (number == nth && mark)
    syscall(SYS_close, syscall(SYS_openat, AT_FDCWD, mark, O_CREAT | O_WRONLY, 0600));
  return 1;
}

static void *next(const char *name) {
  void *found = dlsym(RTLD_NEXT, name);
  if (!found) abort();
  return found;
}
#define NEXT(name) ((__typeof__(&name))next(#name))
#define REFUSE(of, error, result) \
  if (fails(of)) {                \
    errno = error;                \
    return result;                \
  }

ssize_t write(int fd, const void *bytes, size_t size) {
  REFUSE("write", ENOSPC, -1)
  return syscall(SYS_write, fd, bytes, size);
}
ssize_t writev(int fd, const struct iovec *parts, int parts_count) {
  REFUSE("write", ENOSPC, -1)
  return syscall(SYS_writev, fd, parts, parts_count);
}
int fsync(int fd) {
  REFUSE("write", EIO, -1)
  return (int)syscall(SYS_fsync, fd);
}

int rename(const char *from, const char *to) {
  REFUSE("rename", EIO, -1)
  return (int)syscall(SYS_renameat2, AT_FDCWD, from, AT_FDCWD, to, 0);
}
int link(const char *from, const char *to) {
  REFUSE("rename", EIO, -1)
  return (int)syscall(SYS_linkat, AT_FDCWD, from, AT_FDCWD, to, 0);
}
int linkat(int from_fd, const char *from, int to_fd, const char *to, int flags) {
  REFUSE("rename", EIO, -1)
  return (int)syscall(SYS_linkat, from_fd, from, to_fd, to, flags);
}

#define OPEN(name)                                                            \
  int name(const char *file, int flags, ...) {                                \
    va_list rest;                                                             \
    va_start(rest, flags);                                                    \
    const mode_t mode = (flags & (O_CREAT | __O_TMPFILE)) ? va_arg(rest, mode_t) : 0; \
    va_end(rest);                                                             \
    REFUSE("open", EMFILE, -1)                                                \
    return (int)syscall(SYS_openat, AT_FDCWD, file, flags, mode);             \
  }
OPEN(open)
OPEN(open64)
int memfd_create(const char *name, unsigned flags) {
  REFUSE("open", EMFILE, -1)
  return (int)syscall(SYS_memfd_create, name, flags);
}
FILE *fopen(const char *file, const char *mode) {
  REFUSE("open", EMFILE, NULL)
  return NEXT(fopen)(file, mode);
}
FILE *fopen64(const char *file, const char *mode) {
  REFUSE("open", EMFILE, NULL)
  return NEXT(fopen64)(file, mode);
}

/* The C library's own, so that nothing is looked up while memory is asked for. */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);
extern void *__libc_memalign(size_t alignment, size_t size);

void *malloc(size_t size) {
  REFUSE("memory", ENOMEM, NULL)
  return __libc_malloc(size);
}
void *calloc(size_t items, size_t size) {
  REFUSE("memory", ENOMEM, NULL)
  return __libc_calloc(items, size);
}
void *realloc(void *old, size_t size) {
  REFUSE("memory", ENOMEM, NULL)
  return __libc_realloc(old, size);
}
void *aligned_alloc(size_t alignment, size_t size) {
  REFUSE("memory", ENOMEM, NULL)
  return __libc_memalign(alignment, size);
}
int posix_memalign(void **result, size_t alignment, size_t size) {
  if (fails("memory")) return ENOMEM;
  *result = __libc_memalign(alignment, size);
  return *result ? 0 : ENOMEM;
}

static int (*real_main)(int, char **, char **);
static int counted_main(int count_of, char **arguments, char **environment) {
  active = 1;
  const int status = real_main(count_of, arguments, environment);
  active = 0;
  return status;
}

/* What the C library calls main() from. */
int __libc_start_main(int (*main)(int, char **, char **), int count_of, char **arguments,
                      void (*init)(void), void (*fini)(void), void (*rtld_fini)(void), void *stack) {
  if (getenv("FAIL_KIND")) kind = getenv("FAIL_KIND");
  if (getenv("FAIL_NTH")) nth = atol(getenv("FAIL_NTH"));
  after = getenv("FAIL_AFTER") != NULL;
  mark = getenv("FAIL_MARK");
  real_main = main;
  return NEXT(__libc_start_main)(counted_main, count_of, arguments, init, fini, rtld_fini, stack);
}
