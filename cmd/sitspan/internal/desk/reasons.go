package desk

import "sitspan/fit"

// spoken is a reason or a warning as a fitter reads it: what was seen, and what
// to do about it.
type spoken struct{ Seen, Do string }

// speak gives a reason in a language. English is the measurement's own message,
// which has the numbers; German has a sentence for each code, and the English
// one for a code that it does not know.
func speak(lang fit.Lang, code, message, hint string) spoken {
	if lang == fit.German {
		if g, known := germanReasons[code]; known {
			return g
		}
	}
	return spoken{capital(message), capital(hint)}
}

var germanReasons = map[string]spoken{
	"no_frame":            {"Kein Rahmen gefunden", "Den gedruckten Rahmen auf die Unterlage legen, ganz ins Bild, und von oben noch einmal fotografieren"},
	"few_marks":           {"Zu wenige Marken des Rahmens gefunden", "Hände, Tuch und Schatten vom Rahmen nehmen und den ganzen Rahmen ins Bild nehmen"},
	"bent_frame":          {"Der Rahmen liegt nicht flach", "Den Rahmen flach drücken oder auf festeren Karton drucken und noch einmal fotografieren"},
	"blur":                {"Das Foto ist unscharf", "Still halten, auf den Abdruck tippen, um scharf zu stellen, mehr Licht geben"},
	"glare":               {"Ein Teil des Fensters ist überstrahlt", "Lampe oder Kamera drehen, bis nichts mehr weiß glänzt, oder dunkler belichten"},
	"no_dent":             {"Keine Mulde gefunden", "Prüfen, ob das der Abdruck ist, noch einmal setzen lassen und von einer Seite beleuchten"},
	"one_dent":            {"Nur eine Mulde gefunden", "Den Rahmen so legen, dass beide Mulden im Fenster sind, oder noch einmal setzen lassen"},
	"many_dents":          {"Mehr als zwei ähnlich tiefe Mulden", "Unterlage glätten oder ein neues Blatt nehmen und einmal setzen lassen, ohne zu rutschen"},
	"low_relief":          {"Das Relief ist kaum zu sehen", "Eine Lampe tief an eine Seite stellen und noch einmal fotografieren"},
	"implausible_spacing": {"Der Abstand ist nicht glaubhaft", "Das Gefundene ansehen: Die Mitten sind wohl nicht die Sitzknochen; noch einmal setzen lassen"},
	"wide_interval":       {"Das Intervall ist zu breit", "Weitere Fotos mit umgestellter Lampe machen und gemeinsam messen"},
	"medium_unclear":      {"Schaum oder Druckpapier? Das ließ sich nicht erkennen", "Unten bei „Unterlage und Tiefenmaß“ die Unterlage wählen"},
	"focal_in_doubt":      {"Die Brennweite in der Datei widerspricht dem Bild", "Das Foto so verwenden, wie das Telefon es aufnahm, nicht beschnitten und nicht aus einem Messenger"},
	"focal_unknown":       {"Die Datei nennt keine Brennweite: Die Höhe der Kamera ist geraten", "Das Foto so verwenden, wie das Telefon es aufnahm, nicht beschnitten und nicht aus einem Messenger"},
	"print":               {"Der Maßstab dieses Drucks wurde nicht gemessen", "Die Prüfstrecken mit einem Stahlmaßstab messen: sitspan frame verify"},
	"bottomed_out":        {"Eine Mulde reicht bis auf den Grund der Unterlage", "Eine dickere oder festere Unterlage nehmen und noch einmal setzen lassen"},
	"by_hand":             {"Maßstab und Mitten wurden von Hand gesetzt: Kein Rahmen prüft Neigung und Höhe der Kamera", "Wo es geht, ein Foto mit dem gedruckten Rahmen machen"},
	"process_ended":       {"An diesem Foto scheiterte die Messung", "Das Foto noch einmal machen; bleibt es so, als JPEG senden"},
	"too_large":           {"Die Datei ist zu groß", "Ein kleineres Foto senden"},
	"too_many_pixels":     {"Das Bild hat zu viele Pixel", "Mit geringerer Auflösung fotografieren"},
	"not_a_photo":         {"Das ist kein Foto", "Ein JPEG oder HEIC vom Telefon senden"},
	"truncated":           {"Das Foto endet zu früh", "Noch einmal senden"},
	"damaged":             {"Das Foto ist beschädigt", "Noch einmal senden oder fotografieren"},
	"unsupported_format":  {"Dieses Bildformat wird nicht gelesen", "Ein JPEG oder HEIC senden"},
	"empty_file":          {"Die Datei ist leer", "Noch einmal senden"},
	"unreadable":          {"Die Datei ist nicht lesbar", "Noch einmal senden"},
}

// budgetWord gives a budget line's source in a language.
func budgetWord(lang fit.Lang, source string) string {
	if lang == fit.German {
		if g, known := germanBudget[source]; known {
			return g
		}
	}
	return source
}

var germanBudget = map[string]string{
	"left centre":                          "linke Mitte",
	"right centre":                         "rechte Mitte",
	"left centre, set by hand":             "linke Mitte, von Hand",
	"right centre, set by hand":            "rechte Mitte, von Hand",
	"flat bottom of the left dent":         "flacher Grund der linken Mulde",
	"flat bottom of the right dent":        "flacher Grund der rechten Mulde",
	"depth of the dents (parallax)":        "Tiefe der Mulden (Parallaxe)",
	"depth, left against right (parallax)": "Tiefe, links gegen rechts (Parallaxe)",
	"thickness of the card":                "Dicke des Kartons",
	"place of the camera (parallax)":       "Ort der Kamera (Parallaxe)",
	"height of the camera (parallax)":      "Höhe der Kamera (Parallaxe)",
	"corners of the marks":                 "Ecken der Marken",
	"lens":                                 "Objektiv",
	"flatness of the frame":                "Ebenheit des Rahmens",
	"plane of the frame":                   "Ebene des Rahmens",
	"stated resolution of the scan":        "Auflösung des Scans",
	"scale of the print":                   "Maßstab des Drucks",
	"ends of the scale":                    "Enden des Maßstabs",
	"length of the scale":                  "Länge des Maßstabs",
	"tilt of the camera":                   "Neigung der Kamera",
	"repeatability of sitting (Type A)":    "Wiederholbarkeit des Abdrucks (Typ A)",
}
