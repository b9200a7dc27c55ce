package cv

import "C" // heap_linux.c is a part of this package
