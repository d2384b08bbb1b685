import { afterEach, describe, expect, it } from "vitest";
import { speakTold, told, tongue, use } from "../src/text/told";
import cases from "../../gait/table/testdata/digits.json";
import de from "../src/text/told.de.json";

describe("words of the server", () => {
  afterEach(() => speakTold("en"));

  it("stay English where the page is English", () => {
    expect(told("Step rate")).toBe("Step rate");
    expect(tongue("Anything at all")).toBe(undefined);
  });

  it("have their signs in English too", () => {
    expect(told("Thigh angle at toe-off, left is -4.6 ± 4.1 deg, beyond -15.0 deg by more than its error")).toBe("Thigh angle at toe-off, left is −4.6 ± 4.1°, beyond −15.0° by more than its error");
    expect(told("Seen 2026-11-22, 2-3 times in the degree course")).toBe("Seen 2026-11-22, 2-3 times in the degree course");
  });

  it("are found whole, sentence by sentence, and behind the name of a clip", () => {
    use({ "Step rate": "Schrittfrequenz", "only {0} of the {1} foot": "nur {0} des {1} Fußes", left: "linken", "Film longer.": "Länger filmen." });
    expect(told("Step rate")).toBe("Schrittfrequenz");
    expect(told("Only 2 of the left foot. Film longer.")).toBe("Nur 2 des linken Fußes. Länger filmen.");
    expect(told("side.mp4: film longer")).toBe("side.mp4: Länger filmen");
    expect(tongue("side.mp4: film longer")).toBe(undefined);
  });

  it("translate the parts of a list, and leave a name that is none", () => {
    use({ "Wrote {0} of {1}": "{1}: {0} geschrieben", shoes: "Schuhe", goals: "Ziele" });
    expect(told("Wrote shoes and goals of Ada and Bo")).toBe("Ada and Bo: Schuhe, Ziele geschrieben");
  });

  it("have their numbers and units as the page has them", () => {
    use({ "{0} is {1} ± {2}, beyond {3} by more than its error": "{0}: {1} ± {2}, um mehr als den Fehler jenseits von {3}", "reads about {0} high": "liest etwa {0} zu hoch", "steps/min": "Schritte/min" });
    expect(told("X is 150.4 ± 0.5 steps/min, beyond 158.3 steps/min by more than its error")).toBe("X: 150,4 ± 0,5 Schritte/min, um mehr als den Fehler jenseits von 158,3 Schritte/min");
    expect(told("reads about 7.0 deg high")).toBe("liest etwa 7,0° zu hoch");
    expect(told("reads about 0.010 m high")).toBe("liest etwa 0,010 m zu hoch");
    expect(told("reads about 2.5 of something high")).toBe("liest etwa 2.5 of something zu hoch");
  });

  it("stay English as a whole where one sentence is lacking, and say so", () => {
    use({ "Film longer.": "Länger filmen." });
    const mixed = "Film longer. Nobody put this into German.";
    expect(told(mixed)).toBe(mixed);
    expect(tongue(mixed)).toBe("en");
  });

  it.each(cases.cases)("$from: the day of a date is digits, a person's own words stay", ({ from, want }) => {
    use(cases.table);
    expect(told(from)).toBe(want);
    use(de);
    expect(told(from)).toBe(want);
  });

  it("say of a film of a test what is wrong, behind its name", () => {
    use(de);
    expect(told("step.mp4: the left foot moves more than the right one, so the runner stands on the right leg: choose that side.")).toBe(
      "step.mp4: der linke Fuß bewegt sich mehr als der rechte, also steht der Läufer auf dem rechten Bein: bitte diese Seite wählen.",
    );
    expect(told("step.mp4: no person was found in any of 10 frames. Film the whole runner, head to feet, in even light; a person should fill at least a third of the picture's height.")).toMatch(/^step\.mp4: in keinem von 10 Bildern/);
    expect(told("2 repetitions, on average 14.0 degrees at the lowest point (knee inward positive). Trembling of the landmarks: 0.3 degrees. A change counts from 8.3 degrees (SEM 3 degrees, the middle of 2 to 4 in Gwynne & Curran 2014).")).toMatch(
      /^2 Wiederholungen, im Mittel 14,0° am tiefsten Punkt .*Zittern der Körperpunkte: 0,3°\. Eine Änderung zählt ab 8,3°/,
    );
  });

  it("stand sentence by sentence where the place at the end of one would take the next", () => {
    use(de);
    expect(told("Pain of 4 of 10 (left knee, front) is acceptable. Running may go on if the pain is back where it was the next morning.")).toBe(
      "Schmerz von 4 von 10 (linkes Knie, vorn) ist annehmbar. Laufen darf weitergehen, wenn der Schmerz am nächsten Morgen wieder ist, wo er war.",
    );
  });

  it("say Kennwort of a passphrase, each way a backup is refused", () => {
    use(de);
    expect(told("A backup needs a passphrase of 10 to 200 characters. Four or five words picked by chance are good. Write it down and keep it apart from the backup: without it the backup cannot be opened by anyone.")).toMatch(/^Eine Sicherung braucht ein Kennwort von 10 bis 200 Zeichen\. Vier .* niemand sie öffnen\.$/);
    expect(told("This is not the passphrase the backup was made with. Check capitals and the keyboard's language and try again. Without the passphrase nobody can open it.")).toMatch(/^Das ist nicht das Kennwort.* niemand sie öffnen\.$/);
    expect(told("This file is no backup of a studio. Choose the file that was written as a backup; its name ends in .age.")).toMatch(/ endet auf \.age\.$/);
  });

  it("stand between semicolons", () => {
    use({ "because of: {0}": "wegen: {0}", "The steps are slow, so each must be long": "Die Schritte sind langsam, also ist jeder lang", "The foot lands far ahead": "Der Fuß setzt weit vorn auf" });
    expect(told("The steps are slow, so each must be long; The foot lands far ahead")).toBe("Die Schritte sind langsam, also ist jeder lang; Der Fuß setzt weit vorn auf");
    expect(told("because of: The foot lands far ahead; The steps are slow, so each must be long")).toBe("wegen: Der Fuß setzt weit vorn auf; Die Schritte sind langsam, also ist jeder lang");
  });

  it("tell an ffmpeg that does not start, with its own words left as they are", () => {
    use(de);
    expect(told("The program ffprobe is there but does not start (/opt/my tools/ffprobe says: libav.so.59: cannot open shared object file: No such file). Install ffmpeg again with `brew reinstall ffmpeg`, or put one that starts on the search path (PATH) and start gaitwright again.")).toBe(
      "Das Programm ffprobe ist da, startet aber nicht (/opt/my tools/ffprobe meldet: libav.so.59: cannot open shared object file: No such file). Bitte ffmpeg mit `brew reinstall ffmpeg` neu einrichten, oder eines, das startet, in den Suchpfad (PATH) aufnehmen und gaitwright neu starten.",
    );
    expect(told("the program ffmpeg is there but does not start (C:\\tools\\ffmpeg.exe: it ended with exit status 3 and said nothing)")).toBe(
      "das Programm ffmpeg ist da, startet aber nicht (C:\\tools\\ffmpeg.exe: es endete mit exit status 3 und sagte nichts)",
    );
  });

  it("tell in German what was done, each of several deeds, and no file by another name", () => {
    use({ ...de, "The foot lands far ahead": "Der Fuß setzt weit vorn auf", "The steps are slow, so each must be long": "Die Schritte sind langsam, also ist jeder lang", "Bridge": "Brücke", "Plank": "Stütz", "Single-leg squat": "Einbeinige Kniebeuge" });
    for (const [deed, want] of [
      ["Took in side.mp4", "Aufgenommen: side.mp4"],
      ["Measured side.mp4, rear.mp4", "Gemessen: side.mp4, rear.mp4"],
      ["Measured side.mp4 and rear.mp4", "Gemessen: side.mp4, rear.mp4"],
      ["Measured left and right.mp4", "Gemessen: left and right.mp4"],
      ["Said of side.mp4: view, click and camera", "Zu side.mp4 gesagt: Blickrichtung, Klick, Kamera"],
      ["Wrote warning signs, where a warning sign is and clearance into the intake", "In die Aufnahme geschrieben: Warnzeichen, wo ein Warnzeichen ist, Freigabe"],
      ["Rejected the foot lands far ahead", "Verworfen: Der Fuß setzt weit vorn auf"],
      ["Accepted the steps are slow, so each must be long; reopened the foot lands far ahead; changed own findings", "Angenommen: Die Schritte sind langsam, also ist jeder lang; wieder offen: Der Fuß setzt weit vorn auf; eigene Befunde geändert"],
      ["Changed the order of the findings", "Die Reihenfolge der Befunde geändert"],
      ["Put bridge into the plan; put plank into the plan; took single-leg squat out of the plan", "In den Plan genommen: Brücke; in den Plan genommen: Stütz; aus dem Plan genommen: Einbeinige Kniebeuge"],
      ["Changed week 2 of the plan; changed week 3 of the plan", "Woche 2 des Plans geändert; Woche 3 des Plans geändert"],
      ["Return: release: progress; activate: step back", "Rückkehr: Lösen: steigern; Aktivieren: zurück"],
      ["Exam: single-leg squat, left", "Prüfung: Einbeinige Kniebeuge, links"],
      ["Exam: single-leg squat, right, before and 3 more", "Prüfung: Einbeinige Kniebeuge, rechts, vor dem Lösen und 3 weitere"],
      ["Took away the runner's records", "Die Akte des Läufers mitgenommen"],
    ] as const) expect.soft(told(deed)).toBe(want);
  });

  it("tell in German what is odd about a film", () => {
    use(de);
    const said: [string, string][] = [
      ["The camera left out frames in one place.", "Die Kamera hat an einer Stelle Bilder ausgelassen."],
      ["The camera left out frames in 19 places.", "Die Kamera hat an 19 Stellen Bilder ausgelassen."],
      ["The file announces 1200 frames but holds 544: its end is missing.", "Die Datei kündigt 1200 Bilder an und hält 544: Ihr Ende fehlt."],
      ["3 frames have the same time as another and are left out.", "3 Bilder haben die gleiche Zeit wie ein anderes und sind weggelassen."],
      ["The file's clock runs 8 times slow (by the capture rate given); all times are those of the world", "Die Uhr der Datei geht 8-mal zu langsam (nach der angegebenen Aufnahmerate); alle Zeiten sind die wirklichen"],
      ["The camera stands between side and rear; it was taken as from the runner's left: say the view if that is wrong", "Die Kamera steht zwischen der Seite und hinten; genommen wurde: von der linken Seite des Läufers. Stimmt das nicht, bitte die Blickrichtung angeben"],
      ["The camera seems to stand about 7 degrees ahead of square to the runner's side: distances along the belt read about 1 % short. Stand it square; for this film, the camera's turn (7°) corrects the side view", "Die Kamera scheint etwa 7° vor der Senkrechten zur Seite des Läufers zu stehen: Strecken längs des Bands sind um etwa 1 % zu kurz. Bitte rechtwinklig stellen; bei diesem Film berichtigt die Drehung der Kamera (7°) die Seitenansicht"],
      ["side.mp4: the file of this clip is gone from the studio's folder. Take it in again at the station Film.", "side.mp4: die Datei dieses Films fehlt im Ordner des Studios. Bitte an der Station Film noch einmal aufnehmen."],
      ["The steady part from 1.5 to 9.0 s was used; choose another with the start and end", "Benutzt wurde der gleichmäßige Teil von 1,5 bis 9,0 s; Anfang und Ende lassen sich anders wählen"],
    ];
    for (const [english, german] of said) {
      expect(told(english)).toBe(german);
      expect(tongue(english)).toBe(undefined);
    }
  });

  it("have the same places on both sides in the German table", () => {
    for (const [from, to] of Object.entries(de)) {
      const places = (s: string) => [...new Set(s.replace(/#\}/g, "}").match(/\{\d\}/g) ?? [])].sort();
      expect(places(to), from).toEqual(places(from));
      expect(to.trim(), from).not.toBe("");
    }
  });
});
