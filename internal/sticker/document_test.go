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

**What each frame states.** *Quality* is the share, 0 to 1, of the grey variation about
the point that the fit explains. The *error* is one standard deviation on each axis; it
comes from the noise the fit leaves, widened for noise that neighbouring pixels share.

**In a measurement.** ` + "`" + `gaitwright measure run.mp4 --sticker lumbosacral=60,431.5,640 --sticker
thoracolumbar=60,428,566` + "`" + ` names the sticker, the frame counted from 0, and its place in
pixels from the top-left corner; ` + "`" + `2:` + "`" + ` before the name means the second film, the same name
again a further click. Names of landmarks take part in the measurement. There the stated error is doubled,
since film is compressed.

## Measured on rendered clips with exact truth

Invented scenes: a mark of 14 px on a turning limb of patterned cloth before a wall,
along a loop like an ankle's at 120 frames a second, up to 17 px a frame, changing in
size by 14 %, in brightness by 20 % and turning by 34 degrees either way; 150 frames,
noise of 1 grey, one click 1.4 px beside the middle (on it for the print). Bias and SD are of the
worse axis. *In sight found* counts frames in which at most a third of the mark is covered;
*error/stated* is the root mean square of the error over the error stated: above 1 the
stated error is too small. No sample was given in any frame in which the mark was wholly
hidden.

| mark | condition | bias, px | SD, px | worst, px | in sight found | error/stated | quality |
|---|---|---|---|---|---|---|---|
TABLE

## What to beware of

- After H.264 compression the stated error is up to twice too small: what an encoder
  leaves out moves whole blocks together, and the fit cannot see it.
- A print keeps the error of its click's own frame: bias is constant, angles drawn from
  two prints carry it. Round stickers do not.
- A partly covered sticker is followed with an error of about 0.3 px, or left out, most
  often where what covers it is as grey as what it sits on.
- The middle of a sticker is not the bone. Skin moves over the posterior spines and the
  spine by far more than a tenth of a pixel (from memory; see the error of each measure).
- Stickers that look alike and are near each other can be taken for one another where
  one is lost for a moment. On a rendered film from behind, both posterior spines and both heels
  with the same white disc at 60 frames a second, they were exchanged and the pelvic drop came out wrong.
  Where two paths lie within half a diameter of each other neither has a sample, unless both were clicked
  on that mark; an exchange in which they never meet is not noticed.
  Look at the paths; click again after such a place; use stickers that differ.
- Real film has been tried by nobody yet: these figures are from rendered scenes.
`
