package sticker

// document is docs/stickers.md but for its table.
const document = `# Following a sticker

Made by ` + "`go test ./internal/sticker -run TestStatedFigures -update`" + `; the table is measured
by that command, not typed. The same test fails where a bar is missed (the bars stand
in it, somewhat wider than what was measured).

Click a mark once; it is followed to both ends of the clip. A further click on another
frame is a correction: the path goes through it. Where the mark is not in sight there is
no sample. Nothing is carried on, bridged or guessed.

**Which marks.** Round stickers of 10 px or more in the picture that stand out from skin
and cloth, black on light or white on dark, are found from one frame alone and cannot
drift. A bullseye does as well. Any other mark with a corner in it can be followed by
its own look; then the point is exactly where it was clicked, and as good as the click.
A plain edge or bare skin is refused. Give the diameter where the click is blurred or
where two rings could be meant.

**What each frame states.** *Quality* is the share, 0 to 1, of the grey variation in the
mark and at its edge that the fit explains. The *error* is one standard deviation on each
axis: the larger of what the noise left by the fit gives and of how far the place moves when
an eighth of the surroundings is left out. *Doubtful* says that another place is as likely:
its error reaches there, and nothing is measured from it.

**Stickers that look alike.** All that were clicked are looked for together: in each frame
every disc goes to one point at most, in the way that asks least of all their motions. When
all is followed, each pair is looked over once more; where the two may have been exchanged,
and where one leapt farther than it moves, both are doubtful from there to the next click.
Click every sticker that comes near another of its look, and click again where the strip
says doubtful. Forwards and backwards speak alike; a click goes before both.

**In a measurement.** ` + "`" + `gaitwright measure run.mp4 --sticker lumbosacral=60,431.5,640 --sticker
thoracolumbar=60,428,566` + "`" + ` names the sticker, the frame counted from 0, and its place in
pixels from the top-left corner; ` + "`" + `2:` + "`" + ` before the name means the second film, the same name
again a further click. Names of landmarks take part in the measurement. There the stated error is
widened by 1.3 and by 0.05 px, since film is compressed. Doubtful frames are left out; a sticker that
is in doubt or lost for half of the frames gives no measure at all.

## Measured on rendered clips with exact truth

Invented scenes: a mark of 14 px on a turning limb of patterned cloth before a wall,
along a loop like an ankle's at 120 frames a second, up to 17 px a frame, changing in
size by 14 %, in brightness by 20 % and turning by 34 degrees either way; 150 frames,
noise of 1 grey, one click 1.4 px beside the middle (on it for the print). Bias and SD are of the
worse axis. *In sight found* counts frames in which at most a third of the mark is covered;
*true* is the share of the errors within 1.96 of what is stated (95 % of normal errors; the
test fails below 90 %; with H.264 as it is stated for film). No sample was given in any frame in which the mark was wholly
hidden.

| mark | condition | bias, px | SD, px | worst, px | in sight found | true | quality |
|---|---|---|---|---|---|---|---|
TABLE

## What to beware of

- A print keeps the error of its click's own frame: bias is constant, angles drawn from
  two prints carry it. Round stickers do not.
- A partly covered sticker is followed with an error of about 0.3 px, or left out, most
  often where what covers it is as grey as what it sits on.
- The middle of a sticker is not the bone. Skin moves over the posterior spines and the
  spine by far more than a tenth of a pixel (from memory; see the error of each measure).
- Ten like discs of 12 px from behind, followed with one click each (TestTenDiscsAreNotExchangedSilently,
  exact truth): none of the samples given without doubt lay on another disc, at 60 and at 120 frames a
  second and with a post that hides each disc in a third of the frames. How much is doubtful: both
  posterior spines were sure in all frames in which they were in sight, half of them with the post; of all
  ten, 45 % at 60 frames a second and 68 % at 120, since the four discs of one leg run into one another
  where the foot swings towards the camera. Film the heel and shank at 120 or more, and click once each stance.
- An unclicked sticker of the same look can be taken for a clicked one that is hidden. So every twelfth picture is
  looked over for discs of its look that no point is on: where there are any, a path is sure from a click as far
  as it was followed without a gap and without a leap, and doubtful beyond. Three of the ten discs behind the
  post, each clicked alone (TestUnclickedDiscsOfItsLook): none of the samples without doubt lay on another disc,
  38 % of those in sight were sure. Click the others too, and more is.
- Real film has been tried by nobody yet: these figures are from rendered scenes.
`
