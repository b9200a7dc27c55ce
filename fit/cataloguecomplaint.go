package fit

// complaintTexts: what to look for, what to check, when to stop, and on what
// that rests. The papers are known by their abstracts only, and the texts say
// what they found, not what would be convenient.
var complaintTexts = map[string]phrase{
	"complaint.numbness.saddle": {
		en: "Look for a width on which the bones carry the load, and try a relief (channel or cut-out) or a shorter nose. It helps some riders and not others: let the rider try it.",
		de: "Auf eine Breite achten, bei der die Knochen die Last tragen, und eine Entlastung (Rinne oder Aussparung) oder eine kürzere Nase probieren. Sie hilft manchen und anderen nicht: ausprobieren lassen.",
	},
	"complaint.numbness.tilt": {
		en: "Is the nose up? Set the saddle level, then lower the nose by one degree at a time, no further than the rider begins to slide.",
		de: "Zeigt die Nase nach oben? Sattel waagerecht stellen, dann die Nase gradweise senken, nicht weiter, als bis das Rutschen beginnt.",
	},
	"complaint.numbness.height": {
		en: "Is the saddle too high? Then the pelvis rocks and the soft tissue is pressed on the nose.",
		de: "Steht der Sattel zu hoch? Dann kippt das Becken hin und her und drückt die Weichteile auf die Nase.",
	},
	"complaint.numbness.fore_aft": {
		en: "Does the rider sit on the nose to reach the bars? Check the reach and the saddle's fore-aft position.",
		de: "Sitzt die Person auf der Nase, um den Lenker zu erreichen? Reichweite und Längsposition prüfen.",
	},
	"complaint.numbness.stop": {
		en: "Stop when feeling has not come back within minutes of getting off, when it returns on every ride in spite of changes, or when anything else is lost with it.",
		de: "Aufhören, wenn das Gefühl nicht Minuten nach dem Absteigen zurück ist, wenn es trotz Änderungen bei jeder Fahrt wiederkehrt oder wenn anderes mit ihm ausfällt.",
	},
	"complaint.numbness.basis": {
		en: "Basis: 90 men on saddles without a nose for 6 months: perineal pressure -66 %, riders without numbness 27 % to 82 % (Schrader 2008, abstract); oxygen fell least on a wide saddle without a nose (Schwarzer 2002, 20 men, abstract); but cut-outs raised perineal pressure in 48 women (mean +4, peak +11 kPa; Guess 2011, abstract). Set-up: common practice, no source.",
		de: "Grundlage: 90 Männer, 6 Monate auf Sätteln ohne Nase: Dammdruck -66 %, ohne Taubheit 27 % auf 82 % (Schrader 2008, Zusammenfassung); der Sauerstoff fiel am wenigsten auf breitem Sattel ohne Nase (Schwarzer 2002, 20 Männer, Zusammenfassung); aber Aussparungen erhöhten bei 48 Frauen den Dammdruck (Mittel +4, Spitze +11 kPa; Guess 2011, Zusammenfassung). Einstellung: übliche Praxis ohne Quelle.",
	},

	"complaint.soft_tissue_pressure.saddle": {
		en: "Look for a flat rear of the right width, and try with and without a relief: the edges of a cut-out can press where its middle relieves.",
		de: "Auf ein flaches Heck der richtigen Breite achten und mit und ohne Entlastung probieren: Die Ränder einer Aussparung können drücken, wo ihre Mitte entlastet.",
	},
	"complaint.soft_tissue_pressure.tilt": {
		en: "Set the saddle level, then lower the nose by one degree at a time, no further than the rider begins to slide.",
		de: "Sattel waagerecht stellen, dann die Nase gradweise senken, nicht weiter, als bis das Rutschen beginnt.",
	},
	"complaint.soft_tissue_pressure.height": {
		en: "Lower a saddle that makes the pelvis rock.",
		de: "Einen Sattel senken, auf dem das Becken hin und her kippt.",
	},
	"complaint.soft_tissue_pressure.fore_aft": {
		en: "Check whether low or far bars pull the pelvis forward onto the soft tissue; raise or shorten them before blaming the saddle.",
		de: "Prüfen, ob ein tiefer oder ferner Lenker das Becken nach vorn auf die Weichteile zieht; ihn anheben oder heranholen, bevor der Sattel schuld ist.",
	},
	"complaint.soft_tissue_pressure.stop": {
		en: "Stop at swelling, open skin, trouble with passing water, or pain that lasts beyond the ride.",
		de: "Aufhören bei Schwellung, offener Haut, Beschwerden beim Wasserlassen oder Schmerz, der über die Fahrt hinaus anhält.",
	},
	"complaint.soft_tissue_pressure.basis": {
		en: "Basis: in 20 women, 55 % preferred a partial cut-out and 30 % a standard saddle (Bressel and Larson 2003, abstract); saddle width goes with peak perineal pressure, and cut-outs raised it (Guess 2011, 48 women, abstract). Set-up: common practice, no source.",
		de: "Grundlage: Von 20 Frauen zogen 55 % eine teilweise Aussparung vor, 30 % einen Sattel ohne (Bressel und Larson 2003, Zusammenfassung); die Sattelbreite hängt mit dem höchsten Dammdruck zusammen, Aussparungen erhöhten ihn (Guess 2011, 48 Frauen, Zusammenfassung). Einstellung: übliche Praxis ohne Quelle.",
	},

	"complaint.sore_sit_bones.saddle": {
		en: "Look for enough width first, then for padding that the bones do not push through: very soft padding sinks away under them. New riders are sore for some weeks on any saddle.",
		de: "Zuerst auf genug Breite achten, dann auf eine Polsterung, die die Knochen nicht durchdrücken: Sehr weiche gibt unter ihnen nach. Wer neu fährt, ist einige Wochen auf jedem Sattel empfindlich.",
	},
	"complaint.sore_sit_bones.height": {
		en: "Check that the rider carries weight on the legs: a saddle that is too low puts all of it on the bones.",
		de: "Prüfen, ob die Beine mittragen: Ein zu tiefer Sattel lädt alles auf die Knochen.",
	},
	"complaint.sore_sit_bones.tilt": {
		en: "Set the saddle level, so that the load is on the rear and on both sides alike.",
		de: "Sattel waagerecht stellen, damit die Last hinten und auf beiden Seiten gleich liegt.",
	},
	"complaint.sore_sit_bones.fore_aft": {
		en: "Check that the bones sit on the widest part, not on the rear edge or before it.",
		de: "Prüfen, ob die Knochen auf der breitesten Stelle sitzen, nicht auf der Hinterkante oder davor.",
	},
	"complaint.sore_sit_bones.stop": {
		en: "Stop at open or inflamed skin, at a lump, or when the bones hurt off the bike after some weeks: see a physician or physiotherapist.",
		de: "Aufhören bei offener oder entzündeter Haut, bei einem Knoten oder wenn die Knochen nach einigen Wochen auch ohne Rad schmerzen: ärztlichen oder physiotherapeutischen Rat einholen.",
	},
	"complaint.sore_sit_bones.basis": {
		en: "Basis: a wider saddle lowers the rear pressure (Lin 2023, 10 women, abstract). Padding, habituation and set-up: common practice, no source.",
		de: "Grundlage: Ein breiterer Sattel senkt den Druck hinten (Lin 2023, 10 Frauen, Zusammenfassung). Polsterung, Gewöhnung und Einstellung: übliche Praxis ohne Quelle.",
	},

	"complaint.chafed_thighs.saddle": {
		en: "Look for a narrower nose and a quick taper behind it, without edges or seams, and never for more width than is needed.",
		de: "Auf eine schmalere Nase und einen raschen Übergang achten, ohne Kanten und Nähte, und nie auf mehr Breite als nötig.",
	},
	"complaint.chafed_thighs.height": {
		en: "Lower a saddle on which the thighs rub at the bottom of the stroke.",
		de: "Einen Sattel senken, an dem die Schenkel unten im Tritt reiben.",
	},
	"complaint.chafed_thighs.fore_aft": {
		en: "Check that the rider sits on the rear, not on the flare where the saddle widens.",
		de: "Prüfen, ob die Person auf dem Heck sitzt, nicht dort, wo der Sattel breiter wird.",
	},
	"complaint.chafed_thighs.cleats": {
		en: "Check whether the feet stand so close together that the knees come in: cleats and pedal width.",
		de: "Prüfen, ob die Füße so eng stehen, dass die Knie nach innen kommen: Schuhplatten und Pedalabstand.",
	},
	"complaint.chafed_thighs.stop": {
		en: "Stop at open skin until it has healed; at inflammation, fever or boils see a physician.",
		de: "Bei offener Haut aufhören, bis sie verheilt ist; bei Entzündung, Fieber oder Furunkeln ärztlichen Rat einholen.",
	},
	"complaint.chafed_thighs.basis": {
		en: "Basis: common practice, no source.",
		de: "Grundlage: übliche Praxis ohne Quelle.",
	},

	"complaint.sliding_forward.saddle": {
		en: "Look for a slightly raised rear and a cover with grip; a saddle that is too narrow also lets the rider slide to where it carries less badly.",
		de: "Auf ein leicht angehobenes Heck und einen griffigen Bezug achten; auch ein zu schmaler Sattel lässt nach vorn rutschen.",
	},
	"complaint.sliding_forward.tilt": {
		en: "Is the nose down? Set the saddle level first: it is the usual cause.",
		de: "Zeigt die Nase nach unten? Zuerst waagerecht stellen: Das ist die übliche Ursache.",
	},
	"complaint.sliding_forward.fore_aft": {
		en: "Check the reach: whoever slides forward again and again sits too far from the bars.",
		de: "Die Reichweite prüfen: Wer immer wieder nach vorn rutscht, sitzt zu weit vom Lenker.",
	},
	"complaint.sliding_forward.height": {
		en: "Lower a saddle from which the rider reaches for the pedals.",
		de: "Einen Sattel senken, von dem aus die Person nach den Pedalen greift.",
	},
	"complaint.sliding_forward.stop": {
		en: "Stop when the hands or arms go numb from holding against it: change the set-up first, and see a physician or physiotherapist if that stays.",
		de: "Aufhören, wenn vom Gegenhalten Hände oder Arme taub werden: zuerst die Einstellung ändern und, wenn das bleibt, ärztlichen oder physiotherapeutischen Rat einholen.",
	},
	"complaint.sliding_forward.basis": {
		en: "Basis: common practice, no source.",
		de: "Grundlage: übliche Praxis ohne Quelle.",
	},

	"complaint.one_sided_pain.saddle": {
		en: "Do not look for a saddle that hides it. See first whether the present one is worn, bent, or turned to one side.",
		de: "Keinen Sattel suchen, der es überdeckt. Zuerst sehen, ob der jetzige verschlissen, verbogen oder zur Seite gedreht ist.",
	},
	"complaint.one_sided_pain.height": {
		en: "Check whether a saddle that is too high makes the rider reach to one side.",
		de: "Prüfen, ob ein zu hoher Sattel zu einer Seite greifen lässt.",
	},
	"complaint.one_sided_pain.cleats": {
		en: "Compare both cleats, both cranks and both shoes for position, wear and play.",
		de: "Beide Schuhplatten, Kurbeln und Schuhe auf Stellung, Verschleiß und Spiel vergleichen.",
	},
	"complaint.one_sided_pain.tilt": {
		en: "Check with a level across the saddle whether its rails or the post are bent.",
		de: "Mit einer Wasserwaage quer über den Sattel prüfen, ob Streben oder Stütze verbogen sind.",
	},
	"complaint.one_sided_pain.stop": {
		en: "Pain, numbness or an uneven imprint on one side that the set-up does not explain is not for a fitter to explain.",
		de: "Schmerz, Taubheit oder ein ungleicher Abdruck auf einer Seite, den die Einstellung nicht erklärt, ist nicht in der Werkstatt zu klären.",
	},
	"complaint.one_sided_pain.basis": {
		en: "Basis: common practice, no source; the referral is caution, not a finding.",
		de: "Grundlage: übliche Praxis ohne Quelle; der Verweis ist Vorsicht, kein Befund.",
	},
}
