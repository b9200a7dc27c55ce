#define _GNU_SOURCE
#include "decode.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

enum { RIM = 128 };         // what decoders add to a picture's width and height, at the most
enum { WORK = 96 << 20 };   // bytes that they may take beside a picture's pixels
enum { PIXEL = 16 };        // bytes that they may take for each

size_t room(int32_t w, int32_t h) { return 3 * (size_t)(w + RIM) * (size_t)(h + RIM) + 4096; }

void *share(size_t bytes)
{
	void *p = mmap(NULL, bytes, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS | MAP_NORESERVE, -1, 0);
	if (p == MAP_FAILED)
		return NULL;
	madvise(p, bytes, MADV_HUGEPAGE);
	return p;
}

void unshare(void *memory, size_t bytes) { munmap(memory, bytes); }

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

// alone is the fork's life before it decodes: no signal handlers of Go's, no life after its parent's, and
// bounds on time and memory.
static void alone(size_t pixels, int seconds, pid_t parent)
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
	limit(RLIMIT_CPU, seconds);
	limit(RLIMIT_DATA, private_bytes() + pixels * PIXEL + WORK);
	alarm(2 * seconds);
}

int decode_apart(int kind, const uint8_t *file, size_t size, int32_t w, int32_t h, void *memory, int seconds,
	decoded *result)
{
	decoded *shared = memory; // its first page, then the planes
	const size_t head = 4096;
	pid_t parent = getpid(), child = fork();
	if (child < 0)
		return 0;
	if (child == 0) {
		alone((size_t)w * h, seconds, parent);
		decoded d = {0};
		uint8_t *planes = (uint8_t *)memory + head;
		if (kind == JPEG_FILE)
			d.done = decode_jpeg(file, size, planes, room(w, h) - head, &d);
		else if (kind == HEIC_FILE)
			d.done = decode_heif(file, size, planes, room(w, h) - head, &d);
		else
			raise(SIGSEGV);
		memcpy(shared, &d, sizeof d);
		_exit(0);
	}
	int status = 0;
	while (waitpid(child, &status, 0) < 0)
		if (errno != EINTR)
			return 0;
	if (!WIFEXITED(status) || WEXITSTATUS(status) != 0)
		return 0;
	memcpy(result, shared, sizeof *result);
	for (int i = 0; i < 3; i++)
		result->plane[i].at += head;
	return result->done;
}
