// Package video reads and writes clips through ffmpeg and ffprobe, run as child
// processes.
//
// # What a clip is here
//
// A clip is a list of frames and a list of times, one each. The times are the
// file's own: Probe takes them from the container, sorts them and sets the first
// to zero; a nominal frame rate is used only where a file carries no times at
// all, and Facts says so. Decode gives the frames, upright and with square
// pixels, and pairs each with its time by the time stamp the decoder itself
// reports for it, never by counting. A frame that does not decode is therefore a
// hole in the sequence of Frame.Index and not a shift of everything after it.
//
// # What is bounded
//
// Frames are handed out in a small ring of reused buffers: a clip of any length
// needs the same memory. A side longer than MaxSidePX or a frame larger than
// MaxFrameBytes is refused before anything is allocated.
//
// # What is trusted
//
// Nothing in the file. Only regular local files are opened; the child may use
// the file and pipe protocols alone, and only formats which hold their own
// frames, so that a playlist dressed up as a clip can fetch nothing. Each child
// runs in a process group of its own that dies with the context.
//
// # Errors
//
// Every failure a person can do something about is an *Error: one sentence that
// says what is wrong and one that says how to mend it, with a sentinel
// (ErrStill, ErrTruncated …) behind it for errors.Is.
package video
