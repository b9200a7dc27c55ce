package fit

import "maps"

// catalogue holds every sentence and word that this package can say, by code,
// in English and German. A place in a sentence is {name} or {name:format};
// formatParam lists the formats. Codes are stable: records keep them.
//
// What may be said: no diagnosis, no promise, and no number without its basis.
// Where a fact is common practice or our assumption, the sentence says so.
var catalogue = mergeTexts(choiceTexts, rankTexts, complaintTexts, cautionTexts, termTexts)

func mergeTexts(parts ...map[string]phrase) map[string]phrase {
	all := make(map[string]phrase)
	for _, p := range parts {
		maps.Copy(all, p)
	}
	return all
}

// choiceTexts: the verdict, what would decide it, what limits it, and where
// the allowance and the stock come from.
var choiceTexts = map[string]phrase{
	"verdict.clear": {
		en: "Take {width:mm}: {required:mm} are required, and {width:mm} hold that with a probability of {probability:pct}.",
		de: "{width:mm} nehmen: {required:mm} sind nötig, und {width:mm} reichen mit einer Wahrscheinlichkeit von {probability:pct}.",
	},
	"verdict.between_sizes": {
		en: "Between two sizes: {width:mm} hold with a probability of {probability:pct}, {alternative:mm} with only {alternative_probability:pct}; the rule asks for {level:pct}.",
		de: "Zwischen zwei Größen: {width:mm} reichen mit einer Wahrscheinlichkeit von {probability:pct}, {alternative:mm} nur mit {alternative_probability:pct}; die Regel verlangt {level:pct}.",
	},
	"verdict.measure_again": {
		en: "Measure again before choosing: the measurement is so uncertain that the rule goes up to {width:mm}, while rounding up gives {alternative:mm} ({alternative_probability:pct}; the rule asks for {level:pct}, {width:mm} give {probability:pct}).",
		de: "Vor der Wahl noch einmal messen: Die Messung ist so unsicher, dass die Regel bis {width:mm} geht, während Aufrunden {alternative:mm} ergibt ({alternative_probability:pct}; die Regel verlangt {level:pct}, {width:mm} geben {probability:pct}).",
	},
	"verdict.too_wide": {
		en: "Nothing here is wide enough: the widest, {end:mm}, is wide enough with a probability of {end_probability:pct}; the rule asks for {level:pct}. Width to order: {order:mm}.",
		de: "Nichts hier ist breit genug: Der breiteste mit {end:mm} ist mit einer Wahrscheinlichkeit von {end_probability:pct} breit genug; die Regel verlangt {level:pct}. Zu bestellende Breite: {order:mm}.",
	},
	"verdict.no_support": {
		en: "Saddles here are wide enough, but none has a support on which bones {spacing:mm} apart rest with {level:pct}. Width to order: {order:mm}, with a wider support.",
		de: "Breit genug sind hier Sättel, aber keiner hat eine Auflage, auf der Sitzbeinhöcker im Abstand von {spacing:mm} mit {level:pct} ruhen. Zu bestellende Breite: {order:mm}, mit breiterer Auflage.",
	},
	"verdict.too_narrow": {
		en: "Everything here is too wide: the narrowest, {end:mm}, lies two steps or more above what is needed (it is wide enough with {end_probability:pct}; the rule asks for {level:pct}). Width to order: {order:mm}.",
		de: "Alles hier ist zu breit: Der schmalste mit {end:mm} liegt zwei Stufen oder mehr über dem Nötigen (breit genug mit {end_probability:pct}; die Regel verlangt {level:pct}). Zu bestellende Breite: {order:mm}.",
	},
	"decide.photo": {
		en: "Another photo decides for {alternative:mm} if it confirms the spacing and brings its expanded uncertainty below ±{expanded:mm} (95 %).",
		de: "Ein weiteres Foto entscheidet für {alternative:mm}, wenn es den Abstand bestätigt und seine erweiterte Unsicherheit unter ±{expanded:mm} (95 %) bringt.",
	},
	"decide.at_edge": {
		en: "The required width lies so close to {alternative:mm} that no better photo of the same imprint can decide; the sitting and the ride can.",
		de: "Die nötige Breite liegt so nah an {alternative:mm}, dass kein besseres Foto desselben Abdrucks entscheidet; das können das Sitzen und die Fahrt.",
	},
	"decide.sitting": {
		en: "Another sitting on a fresh imprint shows whether the spacing repeats.",
		de: "Ein weiterer, frischer Abdruck zeigt, ob sich der Abstand wiederholt.",
	},
	"decide.test_ride": {
		en: "A test ride on both widths decides where the numbers cannot.",
		de: "Eine Probefahrt auf beiden Breiten entscheidet, wo die Zahlen es nicht können.",
	},
	"decide.into_stock": {
		en: "Rounding up alone would give {plain:mm}, which is here and holds with {probability:pct}; the rule asks for {level:pct}. A better photo or another sitting may bring it in.",
		de: "Aufrunden allein ergäbe {plain:mm}; das ist da und reicht mit {probability:pct}; die Regel verlangt {level:pct}. Ein besseres Foto oder ein weiterer Abdruck kann dafür entscheiden.",
	},
	"warn.too_wide_chafes": {
		en: "A saddle that is too wide chafes the thighs: do not sell one that is wider than needed to be on the safe side.",
		de: "Ein zu breiter Sattel scheuert an den Oberschenkeln: keinen breiteren als nötig verkaufen, um sicherzugehen.",
	},
	"u.zero": {
		en: "The uncertainty was stated as 0, so this is plain rounding up. No imprint is that certain: give the measurement's own uncertainty.",
		de: "Die Unsicherheit wurde mit 0 angegeben; das ist einfaches Aufrunden. So sicher ist kein Abdruck: die Unsicherheit der Messung angeben.",
	},
	"support.short": {
		en: "{width:mm} would be wide enough, but the part of those saddles that carries does not hold a spacing of {spacing:mm} at {level:pct}.",
		de: "{width:mm} wären breit genug, aber die tragende Auflage dieser Sättel fasst einen Abstand von {spacing:mm} nicht mit {level:pct}.",
	},
	"stock.sold_out": {
		en: "{width:mm} would do, but is sold out: order it, or wait for it, rather than take a wider one.",
		de: "{width:mm} würden genügen, sind aber ausverkauft: lieber bestellen oder warten, als einen breiteren nehmen.",
	},
	"stock.starts_above": {
		en: "The stock begins at {narrowest:mm}; {need:mm} would be wide enough.",
		de: "Der Bestand beginnt bei {narrowest:mm}; {need:mm} wären breit genug.",
	},
	"stock.example": {
		en: "The widths are the built-in example (120 to 170 mm in steps of 10), not this shop's stock: give yours with --stock or in shop.yaml.",
		de: "Die Breiten sind das eingebaute Beispiel (120 bis 170 mm in Stufen von 10), nicht der Bestand dieses Geschäfts: den eigenen mit --stock oder in shop.yaml angeben.",
	},
	"spacing.implausible": {
		en: "A spacing of {spacing:mm} is outside {low} to {high:mm}: check it before choosing by it.",
		de: "Ein Abstand von {spacing:mm} liegt außerhalb von {low} bis {high:mm}: vor der Wahl prüfen.",
	},
	"allowance.clamped": {
		en: "The trunk angle of {angle:deg} lies outside the allowance table, which ends at {end:deg}; its last value, {allowance:mm}, is used.",
		de: "Der Rumpfwinkel von {angle:deg} liegt außerhalb der Zuschlagstabelle, die bei {end:deg} endet; ihr letzter Wert, {allowance:mm}, gilt.",
	},
	"allowance.default_table": {
		en: "Allowance {allowance:mm} for a trunk angle of {angle:deg}: the ends of the table (0 to 40 mm) are common practice, no source; its angles (15° to 75°) are our assumption.",
		de: "Zuschlag {allowance:mm} für einen Rumpfwinkel von {angle:deg}: Die Enden der Tabelle (0 bis 40 mm) sind übliche Praxis ohne Quelle; ihre Winkel (15° bis 75°) sind unsere Annahme.",
	},
	"allowance.shop_table": {
		en: "Allowance {allowance:mm} for a trunk angle of {angle:deg}, from the shop's table; basis: {basis}.",
		de: "Zuschlag {allowance:mm} für einen Rumpfwinkel von {angle:deg}, aus der Tabelle des Geschäfts; Grundlage: {basis}.",
	},
	"allowance.by_hand": {
		en: "Allowance {allowance:mm}, stated by the fitter.",
		de: "Zuschlag {allowance:mm}, von Hand angegeben.",
	},
}
