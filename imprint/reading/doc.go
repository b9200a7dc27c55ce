// Package reading looks for the two deepest points in a window on the plane: what goes into the nets and
// comes out of them, what foam and ink show, what a sheet and its marks look like, and what tells foam from
// paper.
//
// Its opinion: a reading says where it sees the two and how well; whether that is good enough is for package
// judge, and what it means in millimetres below the plane for package spacing.
//
// What may live here: windows, media, sheets, nets. What may not: a budget, equation (1), a width, a
// sentence.
package reading
