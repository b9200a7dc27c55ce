#define _GNU_SOURCE
#include "decode.h"

#include <errno.h>
#include <fcntl.h>
#include <malloc.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

enum { WORK = 96 << 20 }; // bytes that a decoder may take beside a picture's pixels
enum { PIXEL = 16 };      // bytes that it may take for each
enum { PIPE = 1 << 20 };  // bytes that a pipe holds, where the system allows it

static void limit(int what, uint64_t most)
{
	struct rlimit r = {most, most};
	setrlimit(what, &r); // lowering it is always allowed; where it is lower already, that stands
}

// private_bytes is how much private memory this process has: the sixth number of statm, in pages (proc(5)).
static uint64_t private_bytes(void)
{
	char text[256] = "";
	unsigned long pages = 0;
	int f = open("/proc/self/statm", O_RDONLY | O_CLOEXEC);
	if (f < 0)
		return 0;
	ssize_t n = read(f, text, sizeof text - 1);
	close(f);
	if (n <= 0 || sscanf(text, "%*s %*s %*s %*s %*s %lu", &pages) != 1)
		return 0;
	return (uint64_t)pages * sysconf(_SC_PAGESIZE);
}

// free_bytes is how much of that malloc holds and has not given out: a decoder finds it without asking for
// more.
static uint64_t free_bytes(void)
{
#ifdef __GLIBC__
#if __GLIBC_PREREQ(2, 33)
	return mallinfo2().fordblks;
#endif
#endif
	return 0;
}

// alone is the fork's life before it decodes: no signal handlers of Go's, no life after its parent's, and
// bounds on time and memory.
static void alone(const task *t, pid_t parent)
{
	sigset_t none;
	prctl(PR_SET_PDEATHSIG, SIGKILL);
	if (getppid() != parent)
		_exit(1);
	for (int s = 1; s < NSIG; s++)
		signal(s, SIG_DFL);
	sigemptyset(&none);
	sigprocmask(SIG_SETMASK, &none, NULL);
	prctl(PR_SET_DUMPABLE, 0);
	limit(RLIMIT_CORE, 0);
	limit(RLIMIT_FSIZE, 0);
	limit(RLIMIT_CPU, t->seconds);
	limit(RLIMIT_DATA, private_bytes() - free_bytes() + (uint64_t)t->w * t->h * PIXEL + WORK);
	alarm(2 * t->seconds);
}

int tell(int to, const void *bytes, size_t n)
{
	for (const char *at = bytes; n > 0;) {
		ssize_t done = write(to, at, n);
		if (done <= 0 && errno != EINTR)
			return 0;
		if (done > 0)
			at += done, n -= done;
	}
	return 1;
}

// decode is the fork's work. CRASH is a decoder that ends at once, STUCK one that never does. HUNGRY asks for
// as many mebibytes as its file is long, and writes a grey picture of one pixel: 1 where it was given them.
static int decode(const uint8_t *file, size_t size, const task *t, int to)
{
	switch (t->kind) {
	case JPEG_FILE:
		return decode_jpeg(file, size, to);
	case HEVC_TILES:
		return decode_hevc(file, t, to);
	case HUNGRY: {
		const head h = {1, 1, 1, 1, 1, 1};
		const uint8_t given = malloc(size << 20) != NULL;
		return tell(to, &h, sizeof h) && tell(to, &given, 1);
	}
	case STUCK:
		return pause();
	}
	return raise(SIGSEGV);
}

pid_t decode_apart(const uint8_t *file, size_t size, const task *t, int *from)
{
	int ends[2];
	if (pipe2(ends, O_CLOEXEC) != 0)
		return -1;
	fcntl(ends[1], F_SETPIPE_SZ, PIPE);
	pid_t parent = getpid(), child = fork();
	if (child == 0) {
		const uint8_t done = DONE;
		alone(t, parent);
		_exit(decode(file, size, t, ends[1]) && tell(ends[1], &done, 1) ? 0 : 1);
	}
	close(ends[1]);
	if (child < 0)
		close(ends[0]);
	*from = ends[0];
	return child;
}

int wait_for(pid_t fork, int now)
{
	int status = 0;
	if (now)
		kill(fork, SIGKILL);
	while (waitpid(fork, &status, 0) < 0)
		if (errno != EINTR)
			return 0;
	return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}
