// Package web is the page: a small HTTP server on the analyst's own machine that
// hands the browser the built page of package ui and, as JSON, pictures and
// reports, what the use cases of package app know.
//
// # What it serves
//
//	GET /                                     the page; also /results/{id}, /reliability
//	GET /assets/{file}                        its script and style, named by content
//	GET /api/results                          [app.PageSummary …]
//	GET /api/results/{id}                     app.PageSession
//	GET /api/results/{id}/clips/{n}/track     app.PageTrack
//	GET /api/results/{id}/clips/{n}/frames/{k}  frame k as JPEG
//	GET /api/results/{id}/report.{format}     the report: pdf, png …
//	GET /api/measures                         [app.PageDefinition …]
//	POST /api/reliability                     app.PageReadings → app.PageReliability
//	POST /api/reliability/adopt               app.PageReadings → [app.PageOwnError …]
//
// Clips and frames are counted from 0; frame k is the k-th sample of the clip's
// track, so that picture and skeleton cannot drift apart. Only the last of these
// changes anything: it writes the studio's own errors of measurement. An answer other than
// 200 carries {"error": "a sentence for the analyst"}.
//
// # Who may ask
//
// The films are of people, so nothing leaves the machine: the server listens on
// the loopback address unless told otherwise, refuses a Host header that is not
// its own (a page elsewhere cannot reach it by renaming itself), refuses
// requests that another site's page sends, and its content-security policy lets
// the page load nothing from anywhere else.
//
// # Working on the page
//
// Its sources are in ui, its build in ui/dist. With Node 20.19 or later, in ui:
//
//	npm ci --ignore-scripts   what the build and the tests need
//	npm run build             the sources into dist, which is committed
//	npm run verify            fails where dist is not what the sources build
//	npm run check && npm test types, and the logic of frames, contacts and phases
//	npm run dev               the page from its sources, data from 127.0.0.1:8787
//
// and from the root of the repository:
//
//	go test ./internal/web -run TestServeInvented -timeout 0 -serve 127.0.0.1:8787
//	go test ./internal/web -run TestPageInBrowser -v -shots FOLDER
//
// The first serves invented runners for the page to show, the second drives the
// page in Chromium and keeps pictures of it at three widths.
package web
