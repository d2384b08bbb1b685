// Package handout makes the sheet that a runner takes home: one HTML file that
// holds a programme's weeks with their figures and timers, the click at each
// week's step rate, and a log. It asks for nothing from anywhere and opens from a
// memory stick or a message; its content security policy forbids every request.
//
// What the runner enters stays in the file's own storage on the phone. It comes
// back as a small file (JSON) or as a code of capital letters and digits, shown as QR
// codes that the page draws itself, a long log as several. ReadQR reads them from a
// camera's picture, ParseLog the file and the code, and believes neither.
//
// The same sheet gives the same bytes. The click is placed by the audio clock, not
// by timers (page/click.js, which the studio's own page uses too).
package handout
