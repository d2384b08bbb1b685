// Package programme makes correctives of what was found: which exercises, on
// which side, how much, in which order, for how many weeks.
//
// # Blocks
//
// The trade's order is kept: release or lengthen the overactive, activate the
// underactive, strengthen, integrate into running. A plan has two versions of a
// session: a warm-up of 5 to 8 minutes before a run, and a full one of 15 to 25
// minutes (or what the runner has).
//
// # Constraints are solved, not listed
//
// Choose picks, for each aim of the findings, an exercise that the runner's
// equipment allows, that loads no region that hurts or is referred, and that is
// in the session only once; among all choices whose time fits it takes the one
// that serves the findings best, earlier findings first. Aims that nothing fits
// are said with the reason. For a referred region there is no exercise at all
// until a clinician has cleared it.
//
// # Dose and progression
//
// Time of an exercise = sides × (sets × work + (sets − 1) × rest) + 20 s to set
// up. Doses rise over the weeks in the order repetitions, sets, harder exercise;
// never two at once. Strengthening is on at most three days a week that do not
// follow each other (ACSM 2009, from memory). Pain rules follow the
// pain-monitoring model (Thomeé 1997, Phys Ther 77:1690; Silbernagel 2007, Am J
// Sports Med 35:897; cut-offs from memory) and do not hold where bone pain is
// suspected.
//
// The coach edits everything: an Item that was edited, added or removed by hand
// is kept by Revise whatever the findings then say.
//
// The exercises are data: library.yaml. The mapping of findings to exercises is
// common practice; no trial stands behind it.
package programme
