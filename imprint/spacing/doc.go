// Package spacing turns two centres on a plane, and what is known of their depths, into the distance between
// the two bottoms with its budget: for one photo, several of one imprint, several sittings, and centres that
// a reviewer has moved.
//
// Its opinion: there is one equation (1), and it stands here. What comes in are places in mm with their
// covariances, cameras and depths. An influence is known by its code, never by its words.
//
// What may live here: distances, depths, budget lines, agreement of photos. What may not: a pixel but a
// centre's, a net, a sentence, a width.
package spacing
