package desk

import (
	"fmt"

	"sitspan/fit"
)

// say gives a text of the page in a language, or its key where it has none; a
// test holds that all have both.
func say(lang fit.Lang, key string) string {
	w, known := words[key]
	switch {
	case !known:
		return key
	case lang == fit.German:
		return w[1]
	}
	return w[0]
}

// sayf gives a text with its values put in.
func sayf(lang fit.Lang, key string, args ...any) string {
	if len(args) == 0 {
		return say(lang, key)
	}
	return fmt.Sprintf(say(lang, key), args...)
}

// words are the page's own texts, English and German.
var words = map[string][2]string{
	"skip":             {"To the content", "Zum Inhalt"},
	"steps":            {"Steps of the visit", "Schritte des Besuchs"},
	"step.visit":       {"Visit", "Besuch"},
	"step.imprint":     {"Imprint", "Abdruck"},
	"step.choice":      {"Choice", "Wahl"},
	"step.sheet":       {"Sheet", "Blatt"},
	"history":          {"History", "Verlauf"},
	"phone":            {"Phone", "Telefon"},
	"cancel":           {"Cancel", "Abbrechen"},
	"search":           {"Search", "Suchen"},
	"read":             {"Please read", "Bitte lesen"},
	"stop":             {"When to stop:", "Wann Schluss ist:"},
	"caution":          {"sitspan advises a fitter and diagnoses nobody. Numbness, pain or one-sided load belong to a physician or physiotherapist; the limits given by the makers of saddle, seat post and frame always hold.", "sitspan berät Fachleute und stellt keine Diagnosen. Taubheit, Schmerz oder einseitige Belastung gehören zu Ärztin, Arzt oder Physiotherapie; die Grenzen der Hersteller von Sattel, Sattelstütze und Rahmen gelten immer."},
	"language.en":      {"English", "Englisch"},
	"language.de":      {"German", "Deutsch"},
	"message.title":    {"That did not work", "Das ging nicht"},
	"message.home":     {"To the riders", "Zu den Fahrenden"},
	"not.found":        {"This is not, or no longer, kept here.", "Das ist hier nicht oder nicht mehr gespeichert."},
	"inside":           {"Something went wrong inside; nothing was changed.", "Innen ging etwas schief; es wurde nichts geändert."},
	"disk.full":        {"The disk is full. Nothing was changed, and what was kept before is untouched. Free some space and try again.", "Der Datenträger ist voll. Es wurde nichts geändert, alles Gespeicherte ist unversehrt. Platz schaffen und noch einmal versuchen."},
	"home.title":       {"Riders", "Fahrende"},
	"home.new":         {"New visit", "Neuer Besuch"},
	"home.lead":        {"Who is here today?", "Wer ist heute da?"},
	"home.open":        {"Begin", "Beginnen"},
	"home.riders":      {"Riders", "Fahrende"},
	"home.none":        {"Nobody has been here yet.", "Noch war niemand da."},
	"home.most":        {"The latest %d are shown; search for others.", "Die letzten %d; andere findet die Suche."},
	"alias":            {"Alias", "Deckname"},
	"alias.help":       {"Not a full name: a nickname or a number. The same alias again opens the same rider.", "Kein voller Name: ein Spitzname oder eine Nummer. Derselbe Deckname öffnet dieselbe Person."},
	"alias.needed":     {"An alias of 1 to %d characters is needed.", "Ein Deckname von 1 bis %d Zeichen wird gebraucht."},
	"search.place":     {"alias, bike or note", "Deckname, Rad oder Notiz"},
	"search.none":      {"Nobody is found by “%s”.", "Niemand gefunden zu „%s“."},
	"visits.count":     {"visits: %d", "Besuche: %d"},
	"reopen":           {"Open", "Öffnen"},
	"reopen.of":        {"Open the latest visit of %s", "Letzten Besuch von %s öffnen"},
	"visit.title":      {"The visit of %s", "Der Besuch von %s"},
	"visit.next":       {"Keep, and on to the imprint", "Sichern und weiter zum Abdruck"},
	"visit.again":      {"New visit", "Neuer Besuch"},
	"bikes":            {"Bikes", "Räder"},
	"bikes.help":       {"The trunk's angle above the horizontal: 15° low and stretched, 75° upright. Type it, or read it off a side photo.", "Der Winkel des Rumpfs über der Waagrechten: 15° tief und gestreckt, 75° aufrecht. Eintippen oder an einem Seitenfoto ablesen."},
	"bike.n":           {"Bike %d", "Rad %d"},
	"bike.name":        {"Name", "Name"},
	"bike.use":         {"Used for", "Einsatz"},
	"bike.more":        {"Another bike", "Noch ein Rad"},
	"trunk":            {"Trunk angle", "Rumpfwinkel"},
	"trunk.u":          {"Uncertainty of the trunk angle", "Unsicherheit des Rumpfwinkels"},
	"trunk.u.short":    {"uncertain by", "unsicher um"},
	"allowance":        {"Allowance", "Zuschlag"},
	"allowance.or":     {"or allowance", "oder Zuschlag"},
	"posture.both":     {"A trunk angle and an allowance were both given for one bike: leave one of them empty.", "Für ein Rad wurden Rumpfwinkel und Zuschlag angegeben: eines davon leer lassen."},
	"trunk.photo":      {"Read off a photo", "Am Foto ablesen"},
	"trunk.title":      {"Read the trunk's angle off a side photo", "Rumpfwinkel am Seitenfoto ablesen"},
	"trunk.private":    {"The photo stays in this browser: it is neither sent nor kept. Taken from the side, square to the bike, from some metres away.", "Das Foto bleibt in diesem Browser: Es wird weder gesendet noch gespeichert. Von der Seite aufgenommen, quer zum Rad, aus einigen Metern."},
	"trunk.choose":     {"Side photo", "Seitenfoto"},
	"trunk.stage":      {"Side photo with the points to set", "Seitenfoto mit den zu setzenden Punkten"},
	"trunk.rear":       {"1 of 4: click the rear axle.", "1 von 4: die Hinterachse anklicken."},
	"trunk.front":      {"2 of 4: click the front axle.", "2 von 4: die Vorderachse anklicken."},
	"trunk.hip":        {"3 of 4: click the hip joint.", "3 von 4: das Hüftgelenk anklicken."},
	"trunk.shoulder":   {"4 of 4: click the top of the shoulder.", "4 von 4: die Schulterhöhe anklicken."},
	"trunk.adjust":     {"Drag a point, or move it with the arrow keys, until it fits.", "Punkte ziehen oder mit den Pfeiltasten bewegen, bis sie sitzen."},
	"trunk.unreadable": {"This browser cannot show that picture: choose a JPEG.", "Dieser Browser kann das Bild nicht zeigen: ein JPEG wählen."},
	"trunk.again":      {"Set anew", "Neu setzen"},
	"trunk.take":       {"Take this angle", "Diesen Winkel nehmen"},
	"trunk.read":       {"%s° ± %s°", "%s° ± %s°"},
	"complaints":       {"Complaints on the present saddle", "Beschwerden auf dem jetzigen Sattel"},
	"complaints.help":  {"Numbness, any loss of feeling and one-sided pain belong to a physician or physiotherapist first.", "Taubheit, jeder Gefühlsverlust und einseitiger Schmerz gehören zuerst zu Ärztin, Arzt oder Physiotherapie."},
	"rider":            {"Rider", "Person"},
	"mass":             {"Body mass", "Körpermasse"},
	"mass.help":        {"For dampers and the saddles' limits. May stay empty.", "Für Dämpfer und die Grenzen der Sättel. Darf leer bleiben."},
	"note":             {"Note", "Notiz"},
	"note.help":        {"Stays here and is not printed.", "Bleibt hier und wird nicht gedruckt."},
	"note.long":        {"The note is too long: at most %d characters.", "Die Notiz ist zu lang: höchstens %d Zeichen."},
	"typed.range":      {"%s: “%s” is not understood. A number from %s to %s %s is needed.", "%s: „%s“ wird nicht verstanden. Eine Zahl von %s bis %s %s wird gebraucht."},

	"imprint.photo":      {"The photo", "Das Foto"},
	"imprint.result":     {"The measurement", "Die Messung"},
	"imprint.first":      {"Photograph the imprint", "Den Abdruck fotografieren"},
	"imprint.how":        {"Frame flat on the pad, FRONT where the rider faced. From straight above, from about 1 m, zoomed in; one lamp low to one side.", "Rahmen flach auf die Unterlage, VORN wohin die Person blickte. Senkrecht von oben, aus etwa 1 m, herangezoomt; eine Lampe tief von der Seite."},
	"imprint.choose":     {"Choose photos", "Fotos wählen"},
	"imprint.drop":       {"Or drop them anywhere on this page.", "Oder irgendwo auf dieser Seite fallen lassen."},
	"imprint.or":         {"Or", "Oder"},
	"imprint.pair":       {"pair a phone", "ein Telefon koppeln"},
	"imprint.unreadable": {"This file gave no picture", "Diese Datei ergab kein Bild"},
	"imprint.empty":      {"The distance between the sit bones appears here.", "Hier erscheint der Abstand der Sitzknochen."},
	"imprint.next":       {"On to the choice", "Weiter zur Wahl"},
	"stage.label":        {"The photo with both centres. Tab to a centre, arrow keys move it by 0.1 mm, with Shift by 1 mm, Ctrl Z takes a move back.", "Das Foto mit beiden Mitten. Mit Tab zu einer Mitte, Pfeiltasten bewegen sie um 0,1 mm, mit Umschalt um 1 mm, Strg Z nimmt zurück."},
	"centre.left":        {"left centre", "linke Mitte"},
	"centre.right":       {"right centre", "rechte Mitte"},
	"scale.a":            {"one end of the scale", "ein Ende des Maßstabs"},
	"scale.b":            {"other end of the scale", "anderes Ende des Maßstabs"},
	"turn":               {"Turn", "Drehen"},
	"imprint.waiting":    {"The photo is being measured", "Das Foto wird gemessen"},
	"imprint.title":      {"The imprint of %s", "Der Abdruck von %s"},
	"zoom":               {"Zoom", "Zoom"},
	"overlay":            {"All that was found", "Alles Gefundene"},
	"coverage":           {"95 of 100 such intervals hold the truth", "95 von 100 solcher Intervalle enthalten den wahren Wert"},
	"automatic":          {"Automatic", "Automatisch"},
	"set.by":             {"set by %s", "gesetzt von %s"},
	"reviewed":           {"(looked at)", "(angesehen)"},
	"move.help":          {"Do both crosses sit on the deepest points? If not, drag them: the arrow keys move by 0.1 mm.", "Sitzen beide Kreuze auf den tiefsten Stellen? Wenn nicht, ziehen: Die Pfeiltasten bewegen um 0,1 mm."},
	"hand.help":          {"No frame in this photo. Put A and B on two marks of a steel rule that lies on the pad, type their distance, and the crosses on the deepest points.", "Kein Rahmen in diesem Foto. A und B auf zwei Striche eines Stahlmaßstabs auf der Unterlage setzen, ihren Abstand eintippen, die Kreuze auf die tiefsten Stellen."},
	"scale.length":       {"From A to B", "Von A bis B"},
	"medium":             {"Imprint in", "Abdruck in"},
	"medium.foam":        {"foam or gel", "Schaum oder Gel"},
	"medium.paper":       {"pressure paper", "Druckpapier"},
	"reviewer":           {"Looked at by", "Angesehen von"},
	"reviewer.needed":    {"Who looked at it? A name or initials, at most 60 characters.", "Wer hat es angesehen? Ein Name oder Kürzel, höchstens 60 Zeichen."},
	"reviewer.u":         {"I see a centre to within", "Ich sehe eine Mitte auf"},
	"undo":               {"Undo", "Zurück"},
	"confirm":            {"Confirm as it is", "So bestätigen"},
	"keep.moved":         {"Keep my centres", "Meine Mitten sichern"},
	"budget":             {"What the interval is made of", "Woraus das Intervall besteht"},
	"budget.source":      {"Influence", "Einfluss"},
	"weakens":            {"What weakens it", "Was sie schwächt"},
	"use.this":           {"Count this one", "Diese zählen lassen"},
	"strip":              {"Photos of this visit", "Fotos dieses Besuchs"},
	"photo.add":          {"Further photo", "Weiteres Foto"},
	"tile.sitting":       {"sitting %d", "Sitzung %d"},
	"tile.together":      {"joined photos", "Fotos gemeinsam"},
	"tile.sittings":      {"all sittings", "alle Sitzungen"},
	"tile.hand":          {"by hand", "von Hand"},
	"take.in":            {"Take in", "Aufnehmen"},
	"leave.out":          {"Leave out", "Weglassen"},
	"join.together":      {"Measure %d photos together", "%d Fotos gemeinsam messen"},
	"join.all":           {"Join %d sittings", "%d Sitzungen verbinden"},
	"join.two":           {"Two photos of this sitting with a result are needed: move the lamp and take another.", "Zwei Fotos dieser Sitzung mit Ergebnis werden gebraucht: Lampe umstellen und noch eines machen."},
	"join.sittings":      {"Two sittings with a result are needed.", "Zwei Sitzungen mit Ergebnis werden gebraucht."},
	"sitting.next":       {"Rider sits again", "Person setzt sich noch einmal"},
	"setup":              {"Pad and depth gauge", "Unterlage und Tiefenmaß"},
	"setup.help":         {"A depth gauge's readings help most: how far each dent's bottom lies below the pad's flat surface. All photos of this visit are measured anew; earlier results stay.", "Am meisten helfen die Werte eines Tiefenmaßes: wie weit der Grund jeder Mulde unter der flachen Oberfläche liegt. Alle Fotos dieses Besuchs werden neu gemessen; frühere Ergebnisse bleiben."},
	"setup.again":        {"Measure anew", "Neu messen"},
	"pad":                {"Pad", "Unterlage"},
	"pad.auto":           {"Find out", "Herausfinden"},
	"depth.left":         {"Depth left", "Tiefe links"},
	"depth.right":        {"Depth right", "Tiefe rechts"},

	"status.measured": {"measured", "gemessen"},
	"status.review":   {"to be looked at", "bitte ansehen"},
	"status.refused":  {"no number", "keine Zahl"},
	"status.failed":   {"not readable", "nicht lesbar"},
	"status.waiting":  {"measuring", "wird gemessen"},

	"upload.sending": {"Sending", "Wird gesendet"},
	"upload.none":    {"No photo came: choose one or more photos.", "Es kam kein Foto: eines oder mehrere wählen."},
	"upload.many":    {"More than %d photos at once: send fewer.", "Mehr als %d Fotos auf einmal: weniger senden."},
	"upload.large":   {"The file is too large: a photo of at most %d MB is needed.", "Die Datei ist zu groß: ein Foto von höchstens %d MB wird gebraucht."},
	"upload.type":    {"This is no photo: a JPEG, HEIC, PNG, TIFF or WebP file is needed.", "Das ist kein Foto: eine JPEG-, HEIC-, PNG-, TIFF- oder WebP-Datei wird gebraucht."},
	"upload.broken":  {"The connection broke off: send the photo again.", "Die Verbindung brach ab: das Foto noch einmal senden."},
}

func init() {
	for key, w := range laterWords {
		words[key] = w
	}
}
