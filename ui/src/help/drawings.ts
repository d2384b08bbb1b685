// One line drawing a page, our own, all in one manner: what is about in soft thin
// lines, people and things in ink, and the point of the drawing in the accent. The
// picture is 240 × 140 units.
export type HelpName = "intake" | "film" | "measure" | "exam" | "findings" | "plan" | "handout" | "return" | "together" | "keeping" | "settings";

/** How a stroke is drawn: soft surroundings, ink, the accent, dashed ink, and each but dashes filled. */
export type Manner = "soft" | "ink" | "point" | "dash" | "inkfull" | "pointfull";
export type Stroke = readonly [Manner, string];

export const width = 240;
export const height = 140;

const n = (v: number) => Math.round(v * 10) / 10;
const circle = (x: number, y: number, r: number) => `M${n(x - r)} ${n(y)}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`;
const box = (x: number, y: number, w: number, h: number, r = 3) =>
  `M${x + r} ${y}h${w - 2 * r}a${r} ${r} 0 0 1 ${r} ${r}v${h - 2 * r}a${r} ${r} 0 0 1 ${-r} ${r}h${-(w - 2 * r)}a${r} ${r} 0 0 1 ${-r} ${-r}v${-(h - 2 * r)}a${r} ${r} 0 0 1 ${r} ${-r}`;
const line = (...at: readonly (readonly [number, number])[]) => "M" + at.map(([x, y]) => `${n(x)} ${n(y)}`).join("L");
/** A value with its error: a dot and a bar with ends. */
const bar = (x: number, y: number, e: number) => `M${x - e} ${y}h${2 * e}M${x - e} ${y - 5}v10M${x + e} ${y - 5}v10`;
/** An arrow along a line of two points. */
function arrow(x1: number, y1: number, x2: number, y2: number): string {
  const a = Math.atan2(y2 - y1, x2 - x1);
  const wing = (by: number): [number, number] => [x2 - 8 * Math.cos(a + by), y2 - 8 * Math.sin(a + by)];
  return line([x1, y1], [x2, y2]) + line(wing(0.5), [x2, y2], wing(-0.5));
}
/** An octagon, as on signs that mean stop. */
const stop = (x: number, y: number, r: number) => {
  const c = r * 0.41;
  return `M${n(x - c)} ${n(y - r)}h${n(2 * c)}l${n(r - c)} ${n(r - c)}v${n(2 * c)}l${n(c - r)} ${n(r - c)}h${n(-2 * c)}l${n(c - r)} ${n(c - r)}v${n(-2 * c)}Z`;
};

/** Someone running to the right, seen from the side; x, y is the hip, s the size. */
const joints = (x: number, y: number, s: number) => {
  const at = (dx: number, dy: number): [number, number] => [x + s * dx, y + s * dy];
  return {
    head: at(11, -62),
    neck: at(7, -46),
    hip: at(0, 0),
    knee: at(25, 20),
    ankle: at(19, 64),
    toe: at(34, 67),
    backKnee: at(-18, 30),
    backAnkle: at(-44, 44),
    backToe: at(-50, 33),
    elbow: at(24, -24),
    hand: at(38, -38),
    backElbow: at(-13, -26),
    backHand: at(-26, -12),
  };
};
const runner = (x: number, y: number, s: number) => {
  const j = joints(x, y, s);
  return circle(j.head[0], j.head[1], 10 * s) + line(j.neck, j.hip, j.knee, j.ankle, j.toe) + line(j.hip, j.backKnee, j.backAnkle, j.backToe) + line(j.neck, j.elbow, j.hand) + line(j.neck, j.backElbow, j.backHand);
};
/** Someone standing, from the front; x is the middle, y the floor, s the size. */
const standing = (x: number, y: number, s: number) =>
  circle(x, y - 100 * s, 10 * s) +
  line([x, y - 88 * s], [x, y - 50 * s]) +
  line([x - 13 * s, y], [x - 9 * s, y - 26 * s], [x - 8 * s, y - 50 * s], [x + 8 * s, y - 50 * s], [x + 9 * s, y - 26 * s], [x + 13 * s, y]) +
  line([x - 24 * s, y - 46 * s], [x - 20 * s, y - 66 * s], [x - 13 * s, y - 83 * s], [x + 13 * s, y - 83 * s], [x + 20 * s, y - 66 * s], [x + 24 * s, y - 46 * s]);

const measured = joints(92, 62, 0.76);

export const drawings: Record<HelpName, readonly Stroke[]> = {
  intake: [
    ["soft", line([24, 130], [96, 130])],
    ["ink", standing(60, 130, 1.1)],
    ["point", circle(70, 101, 8)],
    ["pointfull", circle(70, 101, 3)],
    ["soft", box(126, 14, 94, 116, 5)],
    ["ink", line([162, 36], [206, 36]) + line([162, 60], [198, 60]) + line([162, 84], [206, 84]) + line([162, 108], [190, 108])],
    ["ink", "M139 36l4 4l7 -9M139 60l4 4l7 -9M139 108l4 4l7 -9"],
    ["pointfull", stop(144, 84, 10)],
  ],
  film: [
    ["soft", box(58, 16, 120, 52, 6) + line([72, 24], [72, 60]) + line([88, 24], [88, 60]) + line([104, 24], [104, 60]) + line([132, 24], [132, 60]) + line([148, 24], [148, 60]) + line([164, 24], [164, 60])],
    ["soft", arrow(44, 42, 20, 42)],
    ["ink", "M118 26c6 0 8 9 8 16s-2 16 -8 16s-8 -9 -8 -16s2 -16 8 -16"],
    ["inkfull", circle(114, 42, 5)],
    ["dash", line([118, 114], [72, 70]) + line([118, 114], [164, 70]) + line([214, 42], [180, 24]) + line([214, 42], [180, 60])],
    ["point", line([118, 112], [118, 70]) + "M118 80h9v-10" + line([212, 42], [182, 42])],
    ["ink", box(106, 114, 24, 18) + box(214, 30, 18, 24)],
    ["pointfull", circle(118, 116, 4) + circle(216, 42, 4)],
  ],
  measure: [
    ["soft", line([18, 113], [152, 113])],
    ["ink", runner(92, 62, 0.76)],
    ["inkfull", [measured.neck, measured.hip, measured.ankle, measured.backKnee, measured.backAnkle, measured.elbow, measured.backElbow].map(([x, y]) => circle(x, y, 3.2)).join("")],
    ["point", `M${n(measured.knee[0] - 12)} ${n(measured.knee[1] - 10)}A16 16 0 0 0 ${n(measured.knee[0] - 2)} ${n(measured.knee[1] + 16)}`],
    ["pointfull", circle(measured.knee[0], measured.knee[1], 4.2)],
    ["soft", box(168, 22, 58, 66, 3) + line([176, 38], [192, 38]) + line([176, 55], [192, 55]) + line([176, 72], [192, 72])],
    ["ink", bar(208, 38, 9) + bar(206, 55, 5) + bar(209, 72, 8)],
    ["point", "M22 123h26M82 123h26M142 123h10"],
    ["ink", "M52 133h26M112 133h26"],
  ],
  exam: [
    ["soft", box(14, 96, 196, 10, 2) + line([30, 106], [30, 130]) + line([194, 106], [194, 130])],
    ["ink", circle(34, 80, 10) + line([46, 84], [108, 84])],
    ["ink", line([108, 86], [154, 90], [196, 91], [198, 82])],
    ["ink", line([108, 84], [150, 68], [190, 52], [194, 43])],
    ["ink", line([52, 84], [72, 92], [60, 93])],
    ["dash", line([182, 56], [182, 96])],
    ["ink", box(175, 66, 14, 14, 2)],
    ["point", "M102 62L174 34M99.5 56.5L104.5 67.5M171.5 28.5L176.5 39.5"],
    ["pointfull", circle(108, 84, 4.4)],
  ],
  findings: [
    ["soft", line([22, 20], [22, 62], [112, 62])],
    ["dash", line([66, 18], [66, 62])],
    ["ink", bar(92, 40, 16)],
    ["inkfull", circle(92, 40, 4)],
    ["soft", line([22, 84], [22, 126], [112, 126])],
    ["ink", "M40 126v-32h16v32M72 126v-18h16v18"],
    ["ink", arrow(120, 42, 152, 58) + arrow(120, 106, 152, 84)],
    ["point", box(158, 52, 62, 38, 4) + "M168 66h42M168 77h28"],
    ["dash", line([189, 92], [189, 106])],
    ["soft", box(164, 108, 50, 22, 4) + line([174, 119], [204, 119])],
  ],
  plan: [
    ["soft", line([16, 104], [224, 104])],
    ["ink", "M16 104V92H66V80H116V68H166V56H224V104"],
    ["soft", line([66, 92], [66, 104]) + line([116, 80], [116, 104]) + line([166, 68], [166, 104])],
    ["ink", runner(194, 32, 0.36)],
    ["point", "M30 74L52 68M80 62L102 56M130 50L152 44M146 38L154 43L148 51"],
    ["point", [22, 30, 38, 46, 54, 62, 74, 84, 94, 104, 126, 140, 154, 182, 208].map((x) => `M${x} 114v14`).join("")],
  ],
  handout: [
    ["soft", box(16, 26, 82, 58, 4) + line([44, 84], [40, 98]) + line([70, 84], [74, 98]) + line([32, 98], [82, 98])],
    ["ink", "M38 34h28l10 10v34H38ZM66 34v10h10M45 54h22M45 62h22M45 70h14"],
    ["point", arrow(110, 44, 154, 44)],
    ["ink", box(168, 18, 50, 100, 7) + line([186, 110], [200, 110])],
    ["ink", runner(190, 56, 0.36)],
    ["soft", line([178, 90], [208, 90]) + line([178, 98], [198, 98])],
    ["point", arrow(154, 90, 110, 90)],
    ["ink", "M122 104h20v24h-20ZM127 111l3 3l6 -6M127 121h10"],
  ],
  return: [
    ["ink", runner(46, 36, 0.42)],
    ["ink", runner(46, 104, 0.42)],
    ["soft", line([92, 12], [92, 130]) + line([92, 70], [228, 70])],
    ["ink", bar(124, 30, 16)],
    ["inkfull", circle(124, 30, 4)],
    ["point", bar(188, 50, 16)],
    ["pointfull", circle(188, 50, 4)],
    ["point", arrow(146, 32, 166, 45)],
    ["ink", bar(146, 92, 26)],
    ["inkfull", circle(146, 92, 4)],
    ["ink", bar(162, 112, 26)],
    ["inkfull", circle(162, 112, 4)],
    ["dash", line([136, 84], [136, 122]) + line([172, 84], [172, 122])],
  ],
  together: [
    ["soft", line([18, 14], [18, 128])],
    ["ink", "M18 24h84v16H18M18 56h58v16H18M18 88h30v16H18"],
    ["point", bar(102, 32, 22) + bar(76, 64, 20) + bar(48, 96, 17)],
    ["soft", line([146, 130], [232, 130])],
    ["ink", standing(156, 130, 0.56) + standing(222, 130, 0.56)],
    ["ink", standing(189, 130, 0.78)],
  ],
  keeping: [
    ["soft", line([14, 120], [226, 120])],
    ["ink", "M18 46h26l8 10h44v56H18ZM18 66h78"],
    ["soft", line([28, 80], [84, 80]) + line([28, 92], [70, 92])],
    ["point", arrow(106, 84, 140, 84)],
    ["ink", box(150, 52, 72, 60, 5)],
    ["point", "M174 52v-12a12 12 0 0 1 24 0v12"],
    ["pointfull", circle(186, 76, 5.5) + "M184 80h4l3 13h-10Z"],
  ],
  settings: [
    ["ink", box(20, 22, 122, 78, 5) + line([62, 100], [56, 120]) + line([100, 100], [106, 120]) + line([42, 120], [120, 120])],
    ["soft", line([36, 44], [126, 44]) + line([36, 61], [126, 61]) + line([36, 78], [126, 78])],
    ["pointfull", circle(100, 44, 5) + circle(58, 61, 5) + circle(82, 78, 5)],
    ["dash", line([144, 61], [170, 61])],
    ["ink", box(172, 30, 50, 74, 5) + line([192, 97], [202, 97])],
    ["soft", line([182, 46], [212, 46]) + line([182, 60], [212, 60]) + line([182, 74], [202, 74])],
  ],
};
