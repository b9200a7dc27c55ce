package fit

// rankTexts: why a model stands where it stands, or is left out, and the
// damping.
var rankTexts = map[string]phrase{
	"rank.use.for":        {en: "made for {use:term}", de: "gemacht für {use:term}"},
	"rank.use.not_stated": {en: "its use is not stated", de: "Einsatz nicht angegeben"},
	"rank.use.against":    {en: "made for {uses:terms}, not for {use:term}", de: "gemacht für {uses:terms}, nicht für {use:term}"},

	"rank.relief.for": {
		en: "has a relief ({relief:term}), which is worth a try against {complaint:term}",
		de: "hat eine Entlastung ({relief:term}), einen Versuch wert bei: {complaint:term}",
	},
	"rank.relief.not_stated": {
		en: "whether it has a relief, worth a try against {complaint:term}, is not stated",
		de: "ob er eine Entlastung hat (einen Versuch wert bei: {complaint:term}), ist nicht angegeben",
	},
	"rank.relief.against": {
		en: "has no relief, which would be worth a try against {complaint:term}",
		de: "hat keine Entlastung, die einen Versuch wert wäre bei: {complaint:term}",
	},

	"rank.nose.for": {
		en: "its nose of {nose:mm} is narrow enough for {why:term} (up to {max:mm}: our assumption)",
		de: "seine Nase von {nose:mm} ist schmal genug für: {why:term} (bis {max:mm}: unsere Annahme)",
	},
	"rank.nose.not_stated": {en: "the nose's width is not stated", de: "Breite der Nase nicht angegeben"},
	"rank.nose.against": {
		en: "its nose of {nose:mm} is wide for {why:term} (up to {max:mm}: our assumption)",
		de: "seine Nase von {nose:mm} ist breit für: {why:term} (bis {max:mm}: unsere Annahme)",
	},

	"rank.length.for":        {en: "its length of {length:mm} suits {use:term} (our assumption)", de: "seine Länge von {length:mm} passt zu {use:term} (unsere Annahme)"},
	"rank.length.not_stated": {en: "the length is not stated", de: "Länge nicht angegeben"},
	"rank.length.short": {
		en: "with {length:mm} it is short for {use:term} (from {bound:mm}: our assumption)",
		de: "mit {length:mm} kurz für {use:term} (ab {bound:mm}: unsere Annahme)",
	},
	"rank.length.long": {
		en: "with {length:mm} it is long for {use:term} (up to {bound:mm}: our assumption)",
		de: "mit {length:mm} lang für {use:term} (bis {bound:mm}: unsere Annahme)",
	},

	"rank.mass.for": {
		en: "its limit of {limit:kg} holds the rider's {mass:kg}",
		de: "seine Grenze von {limit:kg} trägt die {mass:kg} der fahrenden Person",
	},
	"rank.mass.not_stated": {
		en: "its limit is not stated: ask its maker whether it holds {mass:kg}",
		de: "Gewichtsgrenze nicht angegeben: beim Hersteller fragen, ob er {mass:kg} trägt",
	},

	"rank.damper.for":        {en: "the {damper:term} damper is to be had for it", de: "den Dämpfer „{damper:term}“ gibt es für ihn"},
	"rank.damper.not_stated": {en: "whether there are dampers for it is not stated", de: "ob es Dämpfer für ihn gibt, ist nicht angegeben"},
	"rank.damper.none":       {en: "there are no dampers for it", de: "für ihn gibt es keine Dämpfer"},
	"rank.damper.against": {
		en: "its dampers ({dampers:terms}) do not include {damper:term}",
		de: "unter seinen Dämpfern ({dampers:terms}) fehlt: {damper:term}",
	},

	"rank.stock.for":        {en: "in stock ({qty})", de: "vorrätig ({qty})"},
	"rank.stock.not_stated": {en: "how many are here is not stated", de: "Stückzahl nicht angegeben"},
	"rank.stock.against":    {en: "sold out: to be ordered", de: "ausverkauft: zu bestellen"},

	"exclude.mass": {
		en: "left out: its limit of {limit:kg} is below the rider's {mass:kg}",
		de: "ausgeschlossen: seine Grenze von {limit:kg} liegt unter den {mass:kg} der fahrenden Person",
	},
	"exclude.support": {
		en: "left out: bones {spacing:mm} apart do not rest surely on its {support:mm} of support",
		de: "ausgeschlossen: Sitzbeinhöcker im Abstand von {spacing:mm} ruhen nicht sicher auf seinen {support:mm} Auflage",
	},
	"models.none_fit": {
		en: "No model of {width:mm} may be recommended: order one that holds the rider's mass, with enough support; do not go to another width instead.",
		de: "Kein Modell mit {width:mm} darf empfohlen werden: eines bestellen, das das Gewicht trägt und genug Auflage hat; nicht auf eine andere Breite ausweichen.",
	},

	"damping.by_mass": {
		en: "Damper for {mass:kg}: {damper:term}, where the model offers it (shop's table; the default borders are common practice, no source).",
		de: "Dämpfer für {mass:kg}: {damper:term}, wo das Modell ihn bietet (Tabelle des Geschäfts; die vorgegebenen Grenzen sind übliche Praxis ohne Quelle).",
	},
	"damping.near": {
		en: "Damper for {mass:kg}: {damper:term}, or {other:term}, since the border of {border:kg} is near; try both where the model offers them (shop's table; the default borders are common practice, no source).",
		de: "Dämpfer für {mass:kg}: {damper:term} oder {other:term}, denn die Grenze von {border:kg} ist nah; beide probieren, wo das Modell sie bietet (Tabelle des Geschäfts; die vorgegebenen Grenzen sind übliche Praxis ohne Quelle).",
	},
	"damping.mass_unknown": {
		en: "No damper is named: the rider's mass is not known.",
		de: "Kein Dämpfer genannt: Das Gewicht der fahrenden Person ist nicht bekannt.",
	},
}

// termTexts: single words that sentences put in.
var termTexts = map[string]phrase{
	"term.road":      {en: "road", de: "Rennrad"},
	"term.gravel":    {en: "gravel", de: "Gravel"},
	"term.mountain":  {en: "mountain", de: "Mountainbike"},
	"term.city":      {en: "city", de: "Stadtrad"},
	"term.touring":   {en: "touring", de: "Reiserad"},
	"term.triathlon": {en: "triathlon", de: "Triathlon"},
	"term.e-bike":    {en: "e-bike", de: "E-Bike"},

	"term.none":    {en: "none", de: "keine"},
	"term.channel": {en: "channel", de: "Rinne"},
	"term.cutout":  {en: "cut-out", de: "Aussparung"},
	"term.relief":  {en: "kind not stated", de: "Art nicht angegeben"},

	"term.soft":   {en: "soft", de: "weich"},
	"term.medium": {en: "medium", de: "mittel"},
	"term.firm":   {en: "firm", de: "fest"},

	"term.tilt":     {en: "tilt", de: "Neigung"},
	"term.height":   {en: "height", de: "Höhe"},
	"term.fore_aft": {en: "fore-aft position", de: "Längsposition"},
	"term.cleats":   {en: "cleats", de: "Schuhplatten"},

	"term.numbness":             {en: "numbness", de: "Taubheit"},
	"term.soft_tissue_pressure": {en: "pressure on soft tissue", de: "Druck auf Weichteile"},
	"term.sore_sit_bones":       {en: "sore sit bones", de: "schmerzende Sitzbeinhöcker"},
	"term.chafed_thighs":        {en: "chafed thighs", de: "wunde Oberschenkel"},
	"term.sliding_forward":      {en: "sliding forward", de: "Rutschen nach vorn"},
	"term.one_sided_pain":       {en: "one-sided pain", de: "einseitiger Schmerz"},

	"term.clear":         {en: "clear", de: "eindeutig"},
	"term.between_sizes": {en: "between two sizes", de: "zwischen zwei Größen"},
	"term.measure_again": {en: "measure again", de: "noch einmal messen"},
	"term.outside_stock": {en: "outside the stock", de: "außerhalb des Bestands"},
}

// cautionTexts: what is read wherever a recommendation is.
var cautionTexts = map[string]phrase{
	"caution.physician": {
		en: "Numbness that lasts, any loss of sensation, and one-sided pain are no matter for a saddle alone: stop riding on it and see a physician or physiotherapist.",
		de: "Anhaltende Taubheit, jeder Verlust von Empfindung und einseitiger Schmerz sind keine Frage des Sattels allein: so nicht weiterfahren und ärztlichen oder physiotherapeutischen Rat einholen.",
	},
	"caution.limits": {
		en: "The limits that the makers of saddle, seat post and frame give always hold: rider's mass, clamping, insertion depth, torque.",
		de: "Die Grenzen, die die Hersteller von Sattel, Sattelstütze und Rahmen angeben, gelten immer: Gewicht, Klemmung, Einstecktiefe, Drehmoment.",
	},
	"caution.advice_only": {
		en: "This is advice to a fitter from a measured distance. It diagnoses nobody and replaces no test ride.",
		de: "Dies ist ein Rat an die Fachkraft aus einem gemessenen Abstand. Er ist keine Diagnose und ersetzt keine Probefahrt.",
	},
}
