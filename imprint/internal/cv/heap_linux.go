package cv

import "C" // heap.c is a part of this package
