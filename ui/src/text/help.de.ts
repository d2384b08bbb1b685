// What each page is for, in German.
import type { HelpText } from "./help.en";

export const helpDe: HelpText = {
  open: "Hilfe",
  close: "Hilfe schließen",
  region: (page) => `Hilfe: ${page}`,
  key: "Hilfe zu dieser Seite auf und zu",
  more: "Mehr im Handbuch",
  pages: {
    intake: {
      three: [
        "Hier steht, wer läuft, was wehtut und womit die Läuferin oder der Läufer einverstanden ist.",
        "Die Warnzeichen kommen vor dem Filmen: Ein Ja heißt, dass zuerst eine Fachperson der Heilkunde nachsieht.",
        "Größe und Gewicht werden besser gemessen als erfragt, denn Schrittlängen und Kraft beruhen darauf.",
      ],
      drawn: "Ein Körper mit einer Marke am Knie neben einer Liste von Fragen; eine Antwort trägt ein Haltezeichen.",
    },
    film: {
      three: [
        "Gebraucht werden ein Film von der Seite und einer von hinten, jeder mit mindestens fünfzehn Sekunden gleichmäßigem Laufen.",
        "Zu jedem Film gehören das Tempo des Bands und bei Zeitlupe die Bilder je Sekunde beim Filmen: Ohne sie stimmen Längen und Zeiten nicht.",
        "„So wird gefilmt“ zeigt, wo die Kameras stehen.",
      ],
      drawn: "Ein Laufband von oben: eine Kamera im rechten Winkel zum Band, eine genau hinter der laufenden Person.",
    },
    measure: {
      three: [
        "Das Programm sucht die laufende Person in jedem Film, findet jeden Fußaufsatz und nennt jede Messgröße mit ihrem Fehler, links und rechts getrennt.",
        "Es arbeitet von selbst; inzwischen kann die Prüfung weitergehen.",
        "Danach lohnt ein Blick auf die zweifelhaften Bilder: Ein falsch sitzender Punkt wird dort verschoben, und man sieht, welche Zahlen sich ändern.",
      ],
      drawn: "Eine laufende Figur mit Gelenken als Punkten und dem Winkel eines Knies, darunter Balken für die Zeiten, in denen jeder Fuß das Band berührt.",
    },
    exam: {
      three: [
        "Kraft, Beweglichkeit und Kontrolle werden von Hand geprüft, auf beiden Seiten, um zu erfahren, was hinter den Filmen stecken kann.",
        "Die Liste beginnt mit den Tests, die bei dieser Person am meisten sagen würden; die übrigen dürfen wegbleiben.",
        "Wo es schmerzt, hilft „Es schmerzt: aufhören“: Ein Test, der schmerzt, misst keine Kraft.",
      ],
      drawn: "Eine Person in Seitenlage hebt das obere Bein gegen einen Gurt; der Abstand von der Hüfte zum Gurt ist markiert.",
    },
    findings: {
      three: [
        "Höchstens drei Befunde werden vorgelegt, jeder mit dem, was ihn trägt, was es sonst sein könnte und was ihn umstoßen würde.",
        "Sie entscheiden: Nur was Sie annehmen, geht in den Plan.",
        "Ein Befund sagt, wie jemand läuft; er ist nie eine Diagnose.",
      ],
      drawn: "Ein Wert mit seinem Fehler jenseits einer Grenze und ein Test daneben führen zu einem Befund; eine gestrichelte Linie führt zu dem, was es sonst sein könnte.",
    },
    plan: {
      three: [
        "Was Sie angenommen haben, wird zu Übungen für die Seite, die sie braucht, Woche für Woche.",
        "Jede Dosis lässt sich ändern; was Sie von Hand ändern, bleibt.",
        "Die Schrittfrequenz steigt jede Woche ein wenig bei gleichem Tempo, mit einem Klick, der ausgeblendet wird.",
      ],
      drawn: "Stufen, die von Woche zu Woche steigen; auf der höchsten läuft jemand, und die Klicks darunter werden weniger.",
    },
    handout: {
      three: [
        "Mit nach Hause gehen die Hausaufgaben als eine Datei fürs Telefon und der Bericht zum Lesen oder Drucken.",
        "Die Hausaufgaben brauchen kein Netz, und ihr Protokoll kommt als Datei, Code oder Bild hierher zurück.",
        "Von hier wird nichts verschickt: Sie geben es selbst weiter.",
      ],
      drawn: "Ein Blatt geht vom Rechner des Studios auf ein Telefon; vom Telefon kommt ein Protokoll zurück.",
    },
    return: {
      three: [
        "Dieser Termin wird gegen einen früheren gehalten, und eine Änderung zählt erst jenseits des Fehlers beider.",
        "Gefilmt wird wie zuvor, von derselben Seite, mit demselben Tempo, in denselben Schuhen; wo die Filme sich unterscheiden, steht da, was nicht zu sagen ist.",
        "Für jeden Block des Plans wird vorgeschlagen: steigern, halten oder zurückgehen, und Sie entscheiden.",
      ],
      drawn: "Zwei Werte mit ihren Fehlern: Ein Paar liegt getrennt, das ist eine Änderung; das andere überlappt, das ist keine.",
    },
    together: {
      three: [
        "Über alle, die der Forschung zugestimmt haben: was Sie am häufigsten sehen, was zusammen vorkommt und was unter Ihren Programmen geschah.",
        "Zu jedem Anteil steht sein Intervall, das weit bleibt, solange es wenige sind.",
        "Eine Gruppe ohne Programm gibt es hier nicht, darum muss, was auf ein Programm folgte, nicht davon gekommen sein.",
      ],
      drawn: "Balken dafür, wie oft jeder Befund vorkommt, jeder mit einer Linie für sein Intervall, daneben eine kleine Gruppe.",
    },
    keeping: {
      three: [
        "Sichern Sie oft, auf einem anderen Datenträger: Die Sicherung ist eine verschlüsselte Datei, die ohne ihr Kennwort niemand öffnet.",
        "Alte Aufzeichnungen stehen in einer Liste, damit Sie entscheiden, ob sie bleiben oder gelöscht werden.",
        "Jeder Blick und jede Änderung steht in einer Liste, mit Namen und Zeit.",
      ],
      drawn: "Ein Ordner mit Aufzeichnungen kommt in einen verschlossenen Kasten auf einem anderen Datenträger.",
    },
    settings: {
      three: [
        "Einheiten, Sprache, Hell oder Dunkel und Ihr Name gelten für dieses Gerät allein.",
        "Name und Logo des Studios stehen auf jedem Bericht.",
        "Um ein Tablet hereinzulassen, wird das Programm mit --lan gestartet; die Adresse steht dann hier.",
      ],
      drawn: "Ein Rechner mit Schiebern auf dem Schirm, verbunden mit einem Tablet.",
    },
  },
  book: {
    title: "Handbuch",
    lead: "Es steckt im Programm und braucht kein Netz.",
    pages: "Seiten des Handbuchs",
    foreign: "Das Handbuch ist auf Englisch geschrieben.",
    none: "Eine solche Seite hat das Handbuch nicht.",
    back: "Alle Seiten",
  },
};
