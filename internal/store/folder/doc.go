// Package folder keeps the large files of a studio in a folder of this machine:
// films, tracks and measured sessions, each under the SHA-256 of its content.
//
//	files/ab/cd…   what is kept; the first two digits are a folder
//	parts/ID       a file that arrives in parts, and
//	parts/ID.about what is known of it, also for a week after it was kept
//
// A file is written beside its place, synced, renamed and the folder synced, so
// that a name always stands for whole content, whatever stops the machine. All
// goes through one os.Root: no name, however made, leads out of the folder.
package folder
