// Package contour draws lines of equal depth through a grid of depths, and cuts
// a section through it.
//
// Its opinion: a line is as good as the grid and says no more. Between grid
// points the depth is taken as linear along the grid's edges, so every point of
// a line lies on an edge and has its level there. A cell that two lines cross
// is decided by the mean of its corners.
//
// It is a leaf: it knows neither pixels nor how a depth was measured.
package contour
