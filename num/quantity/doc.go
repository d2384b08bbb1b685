// Package quantity reads and prints the physical quantities a person types:
// speeds and paces, lengths, masses, times, step rates, frequencies and angles,
// in the units runners use.
//
// Each quantity is a named type over float64 in its SI unit, in the manner of
// time.Duration: 3.5*quantity.MetrePerSecond is a Speed, Speed.KMH() the plain
// number in kilometres an hour. The conversion factors are exact by definition
// (international yard and pound, 1959: 1 in = 0.0254 m, 1 lb = 0.45359237 kg,
// 1 mi = 1609.344 m).
//
// Parsers want the unit. A bare number is refused with the ways to write it,
// since 12 may be a speed in kilometres an hour to one person and in miles to
// the next. A decimal comma is read where it cannot be mistaken for a thousands
// mark. Space between number and unit, and letter case, do not matter, save
// that one quantity's unit never stands for another's. Every parser returns a
// finite number or an error, and the error says what was read and how to write
// it.
//
// Printing rounds once, at the end: 15 km/h is 4:00 a kilometre, never 3:60.
package quantity
