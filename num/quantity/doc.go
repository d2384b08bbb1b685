// Package quantity reads and prints the physical quantities a person types:
// speeds, lengths, masses, angles and times, in the units runners use, and
// converts them to SI.
package quantity
