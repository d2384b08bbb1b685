// Package app holds the use cases of the program, one function for each thing
// a person does, and is the only place that joins the trade (gait), the
// mathematics (num) and the adapters (video, pose, c3d, render …). The command
// line and the web pages are two faces of it.
//
// # The studio
//
// A Studio is a folder: records in studio.db, and in files what they speak of,
// named by content. Records are opened when something is first asked of them, so
// that a measurement that is not kept leaves nothing. Results that versions before
// the records kept as folders are taken in then; the folders stay.
//
// # A visit
//
// A visit goes through stations. What a station lacks, and what is to be done
// next, follows from one table of rules (stations.go) over what is kept; nothing of
// it is kept itself. A warning sign that is answered with yes stops the visit until
// a clinician's clearance is noted, and a clearance speaks of the signs it was
// given for and no others. Without consent no film is taken in.
//
// Everything a person does is one change of the records with a sentence for the
// list of deeds, and can be undone. Whoever writes says which version was read: of
// two people at two screens the second is told (Stale) and nothing is lost.
//
// # Work in the background
//
// Measuring is a job in the records. One worker takes them in order; a job that a
// stop or a breakdown left running is begun again at the next start. Its result and
// its end are written in one change. Finding a runner's landmarks takes minutes and
// the rest a second, so the landmarks are kept with what they were found by, and
// measuring again with other facts begins from there.
//
// What takes much memory is done on an errand, a process of its own that the program
// starts from its own executable: measuring, following stickers, reading a test from
// a film, a live view, drawing the invented runner's films, filling the invented
// studio. But for the last, which is nobody else's yet, an errand never opens the
// records. It hears its order on standard input, tells on standard output how far it
// is, and leaves what it made as a file, which the program takes over: landmarks as
// soon as those of a film are found, the result in one change at the end. It ends
// when its standard input does, be the work cancelled or the program gone, and with
// it its ffmpeg. One that breaks down fails its job alone. What the network, its
// library and a film's landmarks took goes back to the machine, and the program with
// the pages stays small.
//
// What happens goes to every open page through the hub. A page that does not keep
// up is let go and reads everything anew.
package app
