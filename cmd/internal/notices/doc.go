// Package notices collects the licences of what is linked into a program: of each Go
// module whose packages it holds, and of Go itself. Here may live how they are found and
// written; what the project's own licence is stands in .package/copyright and nowhere else.
package notices
