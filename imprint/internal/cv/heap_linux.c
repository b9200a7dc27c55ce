// OpenCV takes and gives back its matrices by malloc. As it comes, malloc keeps a heap for each thread, makes
// a mapping of each large piece, and gives what is freed back to the kernel, which clears it page by page for
// the next. Here one heap serves all threads, holds all but the largest pieces, and keeps what was freed.
//
// This runs before any thread has begun: later ones keep the heaps that they had.

#include <malloc.h>

#ifdef __GLIBC__
enum { MAPPED = 32 << 20, KEPT = 160 << 20 }; // bytes: the most that malloc allows; above what a photo takes

__attribute__((constructor)) static void one_heap(void)
{
	mallopt(M_ARENA_MAX, 1);
	mallopt(M_MMAP_THRESHOLD, MAPPED);
	mallopt(M_TRIM_THRESHOLD, KEPT);
}
#endif
