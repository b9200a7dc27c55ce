// OpenCV takes and gives back its matrices by malloc. As it comes, malloc keeps a heap for each thread, and
// makes a mapping of each large piece. The kernel hands out the pages of these and clears them one by one: a
// net's weights alone are 10,000. Here one heap serves all threads. Its first part is taken at once, in large
// pages where the system has them for the asking. It is kept until it is much larger than what is in use.
//
// This runs before any thread has begun: later ones keep the heaps that they had.

#include <malloc.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

#if defined(__GLIBC__) && defined(MADV_HUGEPAGE)
enum { HEAP = 80 << 20, LARGE = 2 << 20, MAPPED = 32 << 20 };

__attribute__((constructor)) static void one_heap(void)
{
	mallopt(M_ARENA_MAX, 1);
	mallopt(M_MMAP_THRESHOLD, MAPPED);
	mallopt(M_TRIM_THRESHOLD, 2 * HEAP);
	mallopt(M_TOP_PAD, HEAP);
	void *volatile some = malloc(MAPPED / 2); // larger than what is free; else left out by the compiler
	free(some);
	mallopt(M_TOP_PAD, LARGE);
	const uintptr_t end = (uintptr_t)sbrk(0) & ~(uintptr_t)(LARGE - 1);
	if (some)
		madvise((void *)(end - HEAP), HEAP, MADV_HUGEPAGE);
}
#endif
