// Package surface lays a smooth surface through scattered heights and finds its two deepest points, each with
// the uncertainty that the heights leave it.
//
// Its opinion: how smooth a relief is, its heights must say. The surface is a Gaussian process (Rasmussen and
// Williams, Gaussian Processes for Machine Learning, 2006, chapters 2 and 5) whose length, amplitude and
// roughness are those under which the heights are likeliest; what no relief explains, a mistaken dot, is cut.
// A deepest point is not a height: it moves by the slope's error times the radius of curvature, so its
// uncertainty is found by drawing surfaces and finding the deepest point of each (JCGM 101:2008). A bottom
// that is flat within its own uncertainty so gets what it is: a region, and no point.
//
// Axes: x and y in mm on the plane, z in mm, positive down.
//
// What may live here: heights in, surface out. What may not: photos, cameras, dots, spacing rules.
package surface
