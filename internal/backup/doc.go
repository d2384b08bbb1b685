// Package backup writes a studio into one encrypted file and reads it back.
//
// The file is an age file (age-encryption.org/v1, C2SP), encrypted to a
// passphrase by scrypt, and can be opened by any program of that standard. Within
// is a tar archive (POSIX.1-2001, pax):
//
//	about.json    what it is: Form, when it was made, how much is in it
//	…             the entries, in the order given
//	sums.json     [Sum …]: name, length and SHA-256 of each entry before it
//
// The encryption is authenticated in pieces of 64 KiB with the last one marked, so
// that a file that was cut short, altered or put together wrongly is refused; the
// sums are a second guard, against faults in writing it.
//
// Nothing here knows what a studio is: names and contents come from outside, and
// names are checked on the way in and on the way out.
package backup
