// Every word of the stickers, in English.

const points: Record<string, string> = {
  psis: "pelvic spine, back",
  asis: "pelvic spine, front",
  heel_top: "heel, top",
  heel_bottom: "heel, bottom",
  shank_top: "shank, top",
  shank_bottom: "shank, bottom",
  mt1: "ball of the big toe",
  mt5: "ball of the little toe",
  c7: "base of the neck (C7)",
  thoracolumbar: "back, T12/L1",
  lumbosacral: "back, L5/S1",
  sacrum: "sacrum",
};

function pointName(name: string): string {
  const found = /^(left|right)_(.+)$/.exec(name);
  const word = points[found ? found[2]! : name];
  return word === undefined ? name.replaceAll("_", " ") : found ? `${found[1]} ${word}` : word;
}

const s = (n: number, one: string) => (n === 1 ? `1 ${one}` : `${n} ${one}s`);

export const stickersEn = {
  pointName,
  modes: "What is worked on",
  landmarks: "Landmarks",
  stickers: "Stickers",
  title: "Stickers",
  intro: "Choose a point, click the middle of its sticker once, then have it followed through the film.",
  noVisit: "This result was measured outside a visit. Stickers are kept with a visit's film: take the film into a visit, measure it there, and click the stickers at that visit's bench.",
  loading: "Reading the stickers …",
  choose: "Point",
  none: "Choose a point …",
  there: "Clicked already",
  offered: "Not clicked yet",
  own: "Own name …",
  ownLabel: "Name of the point",
  ownHint: "A point of your own is followed; nothing is measured from it.",
  ownTake: "Take this name",
  readyToClick: (name: string) => `Now click the sticker: ${name}.`,
  begin: "Set a mark in mid-picture",
  beginHint: "Then move it with the arrow keys; with Shift by tenths of a pixel.",
  hint: "Choose a point, then click its sticker. Drag to move the picture.",
  heldHint: "Click, drag or arrow keys; Shift for tenths. Esc lets go.",
  list: "Points",
  empty: "No sticker was clicked yet.",
  frame: (n: number) => `frame ${n}`,
  goClick: (name: string, n: number) => `${name}: show the click in frame ${n}`,
  removeClick: "Remove the click in this frame",
  remove: "Remove",
  removeName: (name: string) => `Remove ${name}`,
  seen: (seen: number, all: number, quality: string) => `Seen in ${seen} of ${all} frames, quality ${quality} of 1`,
  neverSeen: "Not seen in any frame",
  old: "from the older clicks; follow again",
  notFollowed: "not followed yet",
  lost: "Lost in",
  lostRange: (a: number, b: number) => (a === b ? `frame ${a}` : `frames ${a} to ${b}`),
  goLost: (name: string, a: number, b: number) => `${name} was lost in ${a === b ? `frame ${a}` : `frames ${a} to ${b}`}: go there`,
  lostHint: "Where the sticker is in sight there, click it again: the path then goes through that click.",
  more: (n: number) => `and ${s(n, "more range")}`,
  legend: "Line: sure. Dashes: unsure. Dots: from older clicks. No line: lost. Square: clicked; ring: followed.",
  alike: "Stickers that look alike may be taken for each other where they are lost for a moment, in films from behind above all. Look at their paths before you use what rests on them.",
  said: "Said by the last measurement",
  follow: "Follow",
  followLabel: (n: number) => `Follow ${s(n, "point")} through the film`,
  waiting: "Waits for other work",
  followingNow: "Following",
  measuringNow: "Measuring again",
  percent: (n: number) => `${n} %`,
  cancel: "Cancel",
  cancelled: "Cancelled.",
  followedNow: "Followed. Look at the paths.",
  measuredNow: "Measured again.",
  measure: "Measure again with the stickers",
  measureHint: "Makes a new result of this visit. The older one stays as it is.",
  measureFirst: "Only points followed since their last click are taken in.",
  newer: "Open the new result",
  clickedAt: (name: string, n: number) => `Clicked ${name}, frame ${n}`,
  unclickedAt: (name: string, n: number) => `Removed the click on ${name}, frame ${n}`,
  removed: (name: string) => `Removed ${name}`,
  stale: "Somebody else changed the stickers meanwhile. What stands now is shown; your last step was not kept.",
  again: "Try again",
};

export type StickerText = typeof stickersEn;
