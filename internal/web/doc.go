// Package web is the page: a small HTTP server on the analyst's own machine that
// hands the browser the built page of package ui and, as JSON, pictures and
// reports, what the use cases of package app know.
//
// # What it serves
//
//	GET /                                     the first page as it stands before its script has come, in the browser's language
//	GET /visits/{id}/{station} …              the page, at this and the addresses of its other parts
//	GET /assets/{file}                        its script and style, named by content
//	GET /api/results                          [app.PageSummary …]
//	GET /api/results/{id}                     app.PageSession
//	GET /api/results/{id}/clips/{n}/track     app.PageTrack
//	GET /api/results/{id}/clips/{n}/frames/{k}  frame k as JPEG
//	GET /api/results/{id}/report.{format}     the report: pdf, png …; ?units=metric|us
//	GET /api/measures                         [app.PageDefinition …]
//	GET /api/measures/{name}/figure           app.PageFigure
//	GET /api/handbook, …/handbook/{name}      app.PageHandbook; app.PageHandbookPage, the first under the empty name
//	GET /api/words/{language}                 {English: the same in the language}, of measures, exercises, plans and findings
//	POST /api/reliability                     app.PageReadings → app.PageReliability
//	POST /api/reliability/adopt               app.PageReadings → [app.PageOwnError …]
//
// Clips and frames of a result are counted from 0; frame k is the k-th sample of
// the clip's track, so that picture and skeleton cannot drift apart.
//
// The stations of a visit:
//
//	GET POST /api/runners                     app.PageRunners; {"name"} → app.PageRunner
//	GET PUT /api/runners/{id}                 app.PageRunner; ?visit= puts the change into that visit's list
//	POST /api/runners/{id}/visits             {"date"} → app.PageVisit
//	GET PUT DELETE /api/visits/{id}           app.PageVisit; app.PageVisitFacts
//	GET /api/intake/form                      app.PageIntakeForm
//	PUT /api/visits/{id}/intake               app.PageIntake → app.PageVisit
//	POST /api/visits/{id}/undo, …/redo        app.PageVisit
//	POST /api/visits/{id}/uploads             app.PageUploadAsk → app.PageUpload
//	GET HEAD PATCH DELETE /api/uploads/{id}   how much has arrived; a part; give up
//	POST /api/uploads/{id}/finish             app.PageVisitClip
//	GET PUT DELETE /api/clips/{id}            app.PageVisitClip; app.PageClipChange
//	GET /api/clips/{id}/frames/{n}            frame n of the file as JPEG; …/poster, …/times, …/belt
//	GET PUT /api/clips/{id}/stickers          app.PageStickers; app.PageStickerChange; POST …/follow → app.PageJob
//	POST /api/visits/{id}/measure             app.PageMeasureAsk → app.PageJob
//	GET /api/exam/tests                       app.PageExamTests, with the guides' drawings
//	GET PUT /api/visits/{id}/exam             app.PageExam, scored
//	POST /api/visits/{id}/exam/table          app.PageExamTable → app.PageExam
//	POST /api/visits/{id}/exam/film           app.PageExamFilm → app.PageJob; what it reads waits in app.PageExam
//	POST …/exam/film/{filmed}/keep            app.PageExam, with its trials; DELETE …/{filmed} puts them aside
//	GET PUT /api/visits/{id}/findings         app.PageFindings; app.PageFindingsKept
//	GET PUT /api/visits/{id}/plan             app.PagePlan; app.PagePlanChange; …/plan.ics?lang=en|de&units=metric|us is the calendar
//	GET PUT /api/visits/{id}/steprate         app.PageStepRate; app.PageStepRateChange; …/click.wav is its click
//	GET /api/visits/{id}/handout              app.PageHandout; …/homework.html?lang=en|de&units=metric|us is the file for the phone
//	POST /api/visits/{id}/log                 app.PageLogAsk: the log that comes back from the phone
//	GET /api/visits/{id}/report/{format}      the report of a visit: pdf, html, svg or png; ?for=runner|clinician&paper=a4|letter&lang=en|de&units=metric|us&page=1&save=1
//	GET PUT DELETE /api/logo                  the studio's logo on reports: PNG or JPEG in, PNG out; 204 for none
//	GET PUT /api/visits/{id}/return           app.PageReturn; app.PageReturnChoice; ?against= another earlier visit
//	POST /api/codes                           a JPEG → {"text"}: a QR code of the homework, empty where none is seen
//	POST /api/visits/{id}/live                app.PageLive: a live view begins; nothing of it is kept
//	POST /api/live/{view}/frames?ms=          a JPEG taken then on the camera's clock → app.PageLiveReading
//	DELETE /api/live/{view}                   the live view ends; one without pictures ends by itself
//	GET /api/results/{id}/clips/{n}/shows/{k} frame k around the runner with the landmarks drawn
//	GET /api/visits/{id}/beside               app.PageBeside; …/results/{id}/beside for a result without a visit
//	GET /api/pairing?a=&b=&foot=              app.PagePairing; a and b are result/clip/stride
//	GET POST /api/results/{id}/clips/{n}/edits  app.PageEdits; app.PageCorrection → app.PageCorrected, kept unless it is to "try", told unless it is "shown"; POST …/undo, …/redo
//	GET /api/results/{id}/clips/{n}/check     [app.PageDoubt …], the frames worth checking
//	GET PUT /api/results/{id}/clips/{n}/drawings  app.PageDrawings; app.PageDrawingsChange; …/undo, …/redo
//	GET /api/picture.png?show=                the app.PageShow in it, drawn, as a file to save
//	POST /api/exports                         app.PageShow → app.PageJob; GET …/{job} is the film when it is done
//	GET /api/visits/{id}/runs                 app.PageRuns: the runs of the watch, against the ramp
//	POST /api/runners/{id}/runs?name=&visit=  a run file as application/octet-stream → app.PageRunTaken
//	PUT DELETE /api/runs/{id}                 app.PageRunChange; ?version=&visit=, whose undo list takes it
//	GET PUT /api/runfolder                    app.PageRunFolder, the watched folder; {"dir"}
//	POST /api/runners/{id}/runs/found         {"visit", "name", "hash"} of a file in it → app.PageRunTaken
//	GET /api/exercises/{name}/{start|end}.svg ?side=left|right|both&look=light|dark
//	POST /api/tryout                          app.PageTryAsk → app.PageTry: the invented runner with a visit, her two films drawn as jobs
//	GET /api/jobs, POST /api/jobs/{id}/cancel app.PageJob
//	GET /api/events                           server-sent events: job, visit, result, runner, runs
//	GET PUT /api/settings                     app.PageSettings
//	GET POST /api/invented                    LookAround: the invented studio, opened beside this one at a port of its own
//
// Keeping data and giving it up:
//
//	GET PUT /api/keeping                      app.PageKeeping; {"retention_years"}
//	POST /api/backups                         {"passphrase"} → {"url"}, good for one fetch of the backup
//	POST /api/backups/verify, …/restore       a backup, with its passphrase in Gaitwright-Passphrase → app.PageBackup
//	POST /api/runners/{id}/keep               keeps an old record another year → app.PageKeeping
//	GET POST /api/runners/{id}/erase          app.PageErase; {"name"} → app.PageErased
//	GET /api/runners/{id}/everything.zip      all that is kept of a runner
//	GET /api/together, /api/together.zip      app.PageTogether; measured values without names
//	GET /api/trail, /api/runners/{id}/trail   [app.PageTrailLine …]
//
// A write carries the version that was read and answers with the whole of what it
// wrote; with an older one it is refused with 409 and nothing is changed. A body
// has known names alone. The header Gaitwright-Who, percent-encoded, names the
// person or device for the list of deeds. An answer other than 2xx carries
// {"error": "a sentence for the analyst"}, and "field" where an entry of a form is
// wrong: 400 the address or the body cannot be understood, 404 there is none, 408 it
// stopped on its way, 409 changed elsewhere, 412 consent is lacking or a warning sign stops the visit, 413 too
// large, 422 it cannot be right, 503 busy or not installed, 507 the disk is full.
//
// A film arrives in parts of at most 8 MB: each PATCH says in Upload-Offset where
// it begins and is answered with where the file now ends. After a break the page
// asks with HEAD how much has arrived and goes on from there. Once all has arrived the
// end may be asked for again, where it was refused or its answer was lost: nothing is
// sent twice, and the same film gives the same clip.
//
// # Who may ask
//
// The films are of people, so nothing leaves the machine: the server listens on
// the loopback address and refuses any other, refuses a Host header that is not
// its own (a page elsewhere cannot reach it by renaming itself), refuses
// requests that another site's page sends, and its content-security policy lets
// the page load nothing from anywhere else.
//
// With --lan the studio's tablets have a door of their own ([LAN]): another port,
// encrypted under a certificate that the program makes, open to devices of the
// same networks alone, behind a passphrase whose guessing is slowed, with sessions
// that end, by themselves or by POST /logout, and the events that are heard in them
// with them. GET /api/lan says how to come in, /api/lan/qr.svg draws the address;
// /login and /logout are on that door alone.
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
//	go test ./internal/web -run InBrowser -v -shots FOLDER
//
// The first serves invented runners for the page to show, the second drives the
// page in Chromium and keeps pictures of it; with ONLY in the environment just the
// checks that have its text in their names, with SLOW=4 as on a machine four times as
// slow, with LATE=300 as from a server whose answers come 300 ms late.
//
// Its words are in ui/src/text, a file a station and language. What the server says
// is English; ui/src/text/told.de.json has the German for it, sentence by sentence,
// and a test holds the two against each other. The explanations of
// measures and the words of exercises, plans and findings are the server's own in German too, GET /api/words/de. What is in neither
// is marked as English on the page.
package web
