/* Kills the process at the n-th call that changes a file; half of a write is done first. For LD_PRELOAD. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/types.h>
#include <unistd.h>

static long left = -1;

void die_at(long n) { left = n; }

static int due(void) { return left > 0 && --left == 0; }

static void die(void) { kill(getpid(), SIGKILL); }

#define REAL(name) __typeof__(name) *real = (__typeof__(name) *)dlsym(RTLD_NEXT, #name)

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at) {
  REAL(pwrite64);
  if (due()) { real(fd, data, size / 2, at); die(); }
  return real(fd, data, size, at);
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t at) {
  REAL(pwrite);
  if (due()) { real(fd, data, size / 2, at); die(); }
  return real(fd, data, size, at);
}

int fsync(int fd) {
  REAL(fsync);
  if (due()) die();
  return real(fd);
}

int fdatasync(int fd) {
  REAL(fdatasync);
  if (due()) die();
  return real(fd);
}

int ftruncate64(int fd, off64_t size) {
  REAL(ftruncate64);
  if (due()) die();
  return real(fd, size);
}

int ftruncate(int fd, off_t size) {
  REAL(ftruncate);
  if (due()) die();
  return real(fd, size);
}

int unlink(const char *path) {
  REAL(unlink);
  if (due()) die();
  return real(path);
}
