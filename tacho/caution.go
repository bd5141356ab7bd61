package tacho

// Caution is a usual warning about work with spinning things, with the place
// it comes from. It is information and no judgement of anybody's set-up.
type Caution struct {
	// Hazard is what can hurt: "bursting rotor", "eyes", "air jet", "gas
	// duster" or "noise".
	Hazard string
	// Text says what the hazard is and what is usually done about it.
	Text string
	// Source names the document, or says "common practice".
	Source string
}

// CautionNote stands below every list of cautions.
const CautionNote = "These are published cautions, not a judgement of your set-up. " +
	"Local codes and licensed practice come first."

var cautions = []Caution{
	{"bursting rotor",
		"The load in a rotor grows with the square of its speed, and a piece that comes off leaves at the speed of the tip. " +
			"Spin nothing faster than its maker allows, nothing cracked, glued or unbalanced, " +
			"and keep everybody out of the plane in which it turns, behind a guard.",
		"stress of a spinning ring, density times tip speed squared: J. Carvill, Mechanical Engineer's Data Handbook, 1.2.7; the rest is common practice"},
	{"eyes",
		"Wear impact-rated eye protection, everybody in the room. Eye protectors are tested at stated impact speeds " +
			"(45, 80 and 120 m/s for levels C, D and E); compare them with the tip speed.",
		"ANSI/ISEA Z87.1-2020; EN ISO 16321-1:2022 (check the edition in force)"},
	{"air jet",
		"Keep a jet of compressed air away from skin, eyes, ears and clothing: it can drive air or chips into the body. " +
			"Where compressed air cleans a workplace, United States rules ask for less than 30 psi (207 kPa), " +
			"a chip guard and protective equipment. Spinning a rotor is not cleaning; the limit is given because it is the one commonly known.",
		"29 CFR 1910.242(b) and 1917.154"},
	{"gas duster",
		"Many spray dusters hold 1,1-difluoroethane (HFC-152a), which burns and makes explosive mixtures with air; the liquid freezes skin, " +
			"and breathing it can stun, suffocate and kill. No flame or spark, fresh air, goggles, the can upright; do not give one to a class.",
		"International Chemical Safety Card 1729 (WHO/ILO, 2009); CPSC notice 89 FR 61363 (31 July 2024)"},
	{"noise",
		"A recording without a calibrated level cannot say how loud it was. The recommended limit is 85 dBA for 8 hours, " +
			"and half the time for every 3 dB more: 94 dBA for one hour, 100 dBA for a quarter of an hour. " +
			"Measure with a sound level meter, step back, wear hearing protection.",
		"NIOSH recommended exposure limit, as stated on its noise pages"},
}

// Cautions returns all cautions that this package knows.
func Cautions() []Caution { return append([]Caution(nil), cautions...) }

// The speeds from which a caution bears. They are ours, and low on purpose: a
// card rotor on a rubber band stays below them, a rotor driven by air or by a
// motor seldom does.
const (
	cautionTip   MetrePerSec = 10
	cautionShaft RevPerSec   = 10 // where the radius is not known
	cautionDBFS              = -3.0
)

// Cautions returns the cautions that bear on the measurement: those about
// bursting and eyes from a tip speed of 10 m/s (10 rev/s if the radius is not
// known); those about air jets and gas dusters if such a speed was not steady,
// for a sound does not tell what drives a rotor; the one about noise with
// either, or if the recording is near full scale. A measurement without a
// reading has none.
func (m *Measurement) Cautions() []Caution {
	fr, ok := m.Top()
	if !ok {
		return nil
	}
	fast := fr.X >= float64(cautionShaft)
	if v, err := m.Rotor.TipSpeed(fr); err == nil {
		_, hi := v.CI95()
		fast = hi >= float64(cautionTip)
	}
	driven := fast && m.Verdict == VerdictVarying
	loud := fast || m.Recording.ClippedFraction > 0 || m.Recording.PeakDBFS >= cautionDBFS
	bears := map[string]bool{"bursting rotor": fast, "eyes": fast, "air jet": driven, "gas duster": driven, "noise": loud}
	var out []Caution
	for _, c := range cautions {
		if bears[c.Hazard] {
			out = append(out, c)
		}
	}
	return out
}
