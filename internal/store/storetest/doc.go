// Package storetest holds every engine of package store to the same promises.
// An engine's own tests call Suite with a function that opens a new, empty
// store; what the suite finds is reported as subtests.
//
// The last of them, Random, does what many people might do in any order and
// compares everything the store then says with a model in plain memory.
package storetest
