// Package largepages gives memory for pictures; knows nobody.
//
// Its opinion: a page of 4 kB costs the system as much as it costs a program to fill it, and a picture of 12
// megapixels has 4500. Pages of 2 MB, where the system has them for whoever asks, cost next to nothing.
package largepages
