// Package app holds the use cases of the program, one function for each thing
// a person does, and is the only place that joins the trade (gait), the
// mathematics (num) and the adapters (video, pose, c3d, render …). The command
// line and the web pages are two faces of it.
package app
