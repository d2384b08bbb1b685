// Package web is the page: a small HTTP server on the analyst's own machine that
// hands the browser the built page of package ui and, as JSON, pictures and
// reports, what the use cases of package app know.
//
// # What it serves
//
//	GET /                                     the page; also /results/{id}
//	GET /assets/{file}                        its script and style, named by content
//	GET /api/results                          [app.PageSummary …]
//	GET /api/results/{id}                     app.PageSession
//	GET /api/results/{id}/clips/{n}/track     app.PageTrack
//	GET /api/results/{id}/clips/{n}/frames/{k}  frame k as JPEG
//	GET /api/results/{id}/report.{format}     the report: pdf, png …
//	GET /api/measures                         [app.PageDefinition …]
//
// Clips and frames are counted from 0; frame k is the k-th sample of the clip's
// track, so that picture and skeleton cannot drift apart. An answer other than
// 200 carries {"error": "a sentence for the analyst"}.
//
// # Who may ask
//
// The films are of people, so nothing leaves the machine: the server listens on
// the loopback address unless told otherwise, refuses a Host header that is not
// its own (a page elsewhere cannot reach it by renaming itself), refuses
// requests that another site's page sends, and its content-security policy lets
// the page load nothing from anywhere else.
package web
