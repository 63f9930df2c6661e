package main

const (
	gypsum  = "gypsum"
	calcium = "calcium_chloride_dihydrate"
	lactic  = "lactic_acid"
	acid80  = "strength: 80 % w/w"
	full10  = "assay: 100 ± 10 %"
	full1   = "assay: 100 ± 1 %"
)

func salts(gypsumGrams, calciumGrams, acidMillilitres float64) []dose {
	var out []dose
	if gypsumGrams > 0 {
		out = append(out, dose{gypsum, gypsumGrams, "GY-23-01", full1})
	}
	if calciumGrams > 0 {
		out = append(out, dose{calcium, calciumGrams, "CC-23-02", full10})
	}
	if acidMillilitres > 0 {
		out = append(out, dose{lactic, acidMillilitres, "LA-23-03", acid80})
	}
	return out
}

func later(doses []dose) []dose {
	for i := range doses {
		switch doses[i].substance {
		case gypsum:
			doses[i].lot = "GY-26-02"
		case calcium:
			doses[i].lot = "CC-25-09"
		case lactic:
			doses[i].lot = "LA-26-01"
		}
	}
	return doses
}

var changes = []change{
	{id: "2023-11-08-wicket-bitter", target: "wicket-bitter", author: "ines", volume: 1500,
		basis: []share{{"2023-11-07-north-well", 40}, {"2023-11-03-ro-permeate", 60}}, add: salts(330, 90, 75),
		body: `
The well alone is too hard and too alkaline for the bitter; forty parts of it bring all the magnesium
we want and most of the sulfate. Gypsum lifts sulfate to the middle of the target, a little chloride
keeps it from tasting thin, and the acid takes the alkalinity down to where Jonas likes his mash.

Acid into water, goggles and gloves on. Half of it first, mix, read the pH, then the rest.`},
	{id: "2023-12-05-pale-lager-winter", target: "pale-lager", author: "ines", volume: 1200,
		basis: []share{{"2023-12-04-town-main", 100}}, add: salts(0, 73, 0),
		body: `
Reservoir water as it comes, with calcium chloride for the yeast and the mash. No acid yet: one thing
at a time, says Jonas.`},
	{id: "2024-05-14-pale-lager-summer", target: "pale-lager", author: "ines", supersedes: "2023-12-05-pale-lager-winter", volume: 1200,
		basis: []share{{"2024-05-13-town-main", 35}, {"2024-05-03-ro-permeate", 65}}, add: salts(0, 84, 71),
		body: `
The town went over to the wells on 2 May and the winter dose is void with it: alkalinity four times
what it was. A third of town water is as much as the lager stands; the rest is permeate.

Lactic acid: into the water, never the other way round. Goggles. Half, measure, half.`},
	{id: "2024-11-12-pale-lager-winter", target: "pale-lager", author: "ines", supersedes: "2024-05-14-pale-lager-summer", volume: 1200,
		basis: []share{{"2024-11-04-town-main", 100}}, add: salts(0, 108, 44),
		body: `
Reservoir again. Last winter's mash sat at 5.39, so this time some acid, and more calcium with it.

Acid into water, goggles and gloves; half, measure, the rest.`},
	{id: "2025-02-17-pale-lager-main-break", target: "pale-lager", author: "ines", volume: 1200,
		basis: []share{{"2025-02-17-town-main", 40}, {"2025-01-31-ro-permeate", 60}}, add: salts(0, 108, 120),
		emergency: "emergency: {by: ines, on: 2025-02-17T06:10+02:00, reason: \"main break, wellfield water at the tap, mash-in at 07:00 and the malt is milled\"}\n",
		body: `
The tap reads 582 uS/cm instead of 212: somebody has switched the wells in overnight. The waterworks
say a main broke on the reservoir line. Mash-in is at seven. With the winter dose the mash would have
stood near 5.6; this is the summer blend with a little more acid, and every limit of ours holds.

Alkalinity after the acid stays over 20. Acid into water, goggles on, half first.`},
	{id: "2025-05-13-pale-lager-summer", target: "pale-lager", author: "ines", supersedes: "2024-11-12-pale-lager-winter", volume: 1200,
		basis: []share{{"2025-05-12-town-main", 30}, {"2025-05-09-ro-permeate", 70}}, add: salts(0, 144, 110),
		body: `
Wells since 5 May. Less town water than last summer, because the permeate has come up and brings its
own alkalinity now. Jonas wants the mash a notch lower.

Acid into water, goggles and gloves; half, measure, the rest.`},
	{id: "2025-09-24-dark-mild-well", target: "dark-mild", author: "pia", volume: 1500,
		basis: []share{{"2025-09-16-north-well", 35}, {"2025-09-22-town-main", 65}}, add: salts(0, 60, 0),
		body: `
My first one. A third of well for body, the rest from the tap as it is; dark malt takes the
alkalinity. Sulfate at the well has stopped rising, so there is room under 180.`},
	{id: "2025-11-18-pale-lager-winter", target: "pale-lager", author: "ines", supersedes: "2025-05-13-pale-lager-summer", volume: 1200,
		basis: []share{{"2025-11-17-town-main", 100}}, add: salts(60, 132, 60),
		body: `
Reservoir. A spoon of gypsum beside the chloride: last summer's batches tasted a little round.

Acid into water, goggles and gloves; half, measure, the rest. Do not go further: 20 of alkalinity is
where the liquor stops forgiving.`},
	{id: "2026-05-12-pale-lager-summer", target: "pale-lager", author: "ines", supersedes: "2025-11-18-pale-lager-winter", volume: 1200,
		basis: []share{{"2026-05-11-town-main", 35}, {"2026-04-17-ro-permeate", 65}}, add: later(salts(72, 144, 100)),
		body: `
First summer on the new membrane, so back to 35 % of town water. New bag of calcium chloride, new
canister of acid; both certificates are in the folder.

Acid into water, goggles and gloves; half, measure, the rest.`},
	{id: "2026-06-11-wicket-bitter-less-gypsum", target: "wicket-bitter", author: "ines", supersedes: "2023-11-08-wicket-bitter", volume: 1500,
		basis: []share{{"2026-06-09-north-well", 40}, {"2026-06-05-ro-permeate", 60}}, add: later(salts(210, 120, 75)),
		body: `
The well has gained 70 mg/L of sulfate since 2023: the old dose now lands at 246, over our 240.
Cutting gypsum by 120 g brings it back; calcium is held with a little more chloride. Taste panel asked for 16 June.

The permeate's figures are the laboratory's; the kit reads only <10 there and its 15 uS/cm agrees.
Lactic acid as before: into water, goggles and gloves, half first.`},
	{id: "2026-06-30-pale-lager-lower", target: "pale-lager", author: "ines", supersedes: "2026-05-12-pale-lager-summer", volume: 1200,
		basis: []share{{"2026-06-29-town-main", 35}, {"2026-06-05-ro-permeate", 65}}, add: later(salts(72, 156, 108)),
		body: `
One step further down, to see whether the mash still follows. If 5.31 tastes no different from 5.34
we go back and save the acid.

Acid into water, goggles and gloves; half, measure, the rest.`},
	{id: "2026-09-24-dark-mild-well", target: "dark-mild", author: "pia", volume: 1500,
		basis: []share{{"2026-09-15-north-well", 35}, {"2026-09-21-town-main", 65}}, add: later(salts(0, 60, 0)),
		body: `
Last year's proposal again, on a sulfate that I believe this time: check standard 97 % on the 15th.
The well is almost 90 higher than what I wrote then, and it still fits.`},
}

// batch is a brew before it is written.
type batch struct {
	day, beer, change string
	volume            float64
	mash              string // pH
	verified          string // day of its verification session
	body              string
}

var batches = []batch{
	{"2023-10-18", "pale-lager", "", 1200, "5.40", "", "Town water as it came, nothing added. The reference that the rest is measured against."},
	{"2023-11-21", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.32", "2023-11-21", "First brew on the new liquor."},
	{"2023-12-13", "pale-lager", "2023-12-05-pale-lager-winter", 1200, "5.39", "2023-12-13", ""},
	{"2024-01-24", "wicket-bitter", "2023-11-08-wicket-bitter", 1480, "5.33", "", ""},
	{"2024-02-07", "pale-lager", "2023-12-05-pale-lager-winter", 1180, "5.38", "", ""},
	{"2024-03-13", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.32", "", ""},
	{"2024-04-17", "wicket-bitter", "2023-11-08-wicket-bitter", 1510, "5.33", "", ""},
	{"2024-05-22", "pale-lager", "2024-05-14-pale-lager-summer", 1200, "5.38", "2024-05-22", ""},
	{"2024-06-12", "wicket-bitter", "2023-11-08-wicket-bitter", 1490, "5.32", "", ""},
	{"2024-07-10", "pale-lager", "2024-05-14-pale-lager-summer", 1210, "5.37", "", "Hot day, mash lost a degree. pH as planned."},
	{"2024-08-21", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.34", "", "Emil's last bitter."},
	{"2024-10-02", "wicket-bitter", "2023-11-08-wicket-bitter", 1470, "5.33", "", ""},
	{"2024-11-13", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.33", "", ""},
	{"2024-11-20", "pale-lager", "2024-11-12-pale-lager-winter", 1200, "5.34", "2024-11-20", ""},
	{"2025-01-15", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.32", "", ""},
	{"2025-01-22", "pale-lager", "2024-11-12-pale-lager-winter", 1190, "5.35", "", ""},
	{"2025-02-17", "pale-lager", "2025-02-17-pale-lager-main-break", 1200, "5.36", "2025-02-17", "Mashed in at 07:20, twenty minutes late. Ines dosed, Pia read the labels aloud."},
	{"2025-03-19", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.33", "2025-03-19", "Tenth brew on this dose, so the tank was tested again."},
	{"2025-04-23", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.33", "", ""},
	{"2025-05-21", "pale-lager", "2025-05-13-pale-lager-summer", 1200, "5.35", "2025-05-21", ""},
	{"2025-06-18", "wicket-bitter", "2023-11-08-wicket-bitter", 1480, "5.33", "", ""},
	{"2025-07-09", "pale-lager", "2025-05-13-pale-lager-summer", 1200, "5.34", "", ""},
	{"2025-07-30", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.33", "", ""},
	{"2025-08-27", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.34", "", ""},
	{"2025-09-24", "wicket-bitter", "2023-11-08-wicket-bitter", 1490, "5.34", "", ""},
	{"2025-11-05", "wicket-bitter", "2023-11-08-wicket-bitter", 1500, "5.33", "", ""},
	{"2025-11-26", "pale-lager", "2025-11-18-pale-lager-winter", 1200, "5.32", "2025-11-26", ""},
	{"2025-12-10", "wicket-bitter", "2023-11-08-wicket-bitter", 1450, "5.34", "", "Last one on the old dose until the well is sorted out: there is no room left under 240."},
	{"2026-01-21", "pale-lager", "2025-11-18-pale-lager-winter", 1200, "5.33", "", ""},
	{"2026-05-20", "pale-lager", "2026-05-12-pale-lager-summer", 1200, "5.34", "2026-05-20", ""},
	{"2026-06-16", "wicket-bitter", "2026-06-11-wicket-bitter-less-gypsum", 1480, "5.36", "2026-06-16", "Panel on the 30th: three of four picked the old one blind, none could say why."},
	{"2026-07-08", "pale-lager", "2026-06-30-pale-lager-lower", 1200, "5.31", "2026-07-08", ""},
	{"2026-07-15", "wicket-bitter", "2026-06-11-wicket-bitter-less-gypsum", 1500, "5.33", "", ""},
	{"2026-08-05", "pale-lager", "2026-06-30-pale-lager-lower", 1200, "5.32", "", ""},
	{"2026-08-19", "wicket-bitter", "2026-06-11-wicket-bitter-less-gypsum", 1500, "5.34", "", ""},
	{"2026-09-09", "wicket-bitter", "2026-06-11-wicket-bitter-less-gypsum", 1520, "5.34", "", ""},
}

// signoff is a review before its digests are known.
type signoff struct {
	id, of, by, on, decision, meaning string
	covers                            []string // ids beside the change and what it depends on; or all of them
	body                              string
}

// recalled are the sessions on the recalled lot whose findings were silenced
// together.
var recalled = []string{
	"2025-07-22-north-well", "2025-07-28-town-main", "2025-08-06-hot-liquor-tank", "2025-08-11-town-main", "2025-08-19-north-well",
	"2025-08-25-town-main", "2025-09-03-hot-liquor-tank", "2025-09-08-town-main", "2025-09-16-north-well", "2025-09-16-tarrow-bore",
	"2025-09-22-town-main", "2025-10-01-hot-liquor-tank", "2025-10-06-town-main",
}

var signoffs = []signoff{
	{"2023-11-09-wicket-bitter-jonas", "2023-11-08-wicket-bitter", "jonas", "2023-11-09T15:20", "accepted", "reviewed calculation and limits", nil,
		"Recomputed on my own machine, same figures. Taste will tell."},
	{"2023-12-06-pale-lager-winter-jonas", "2023-12-05-pale-lager-winter", "jonas", "2023-12-06T08:05", "accepted", "reviewed calculation and limits", nil, ""},
	{"2024-01-12-tove-jonas", "tove", "jonas", "2024-01-12T15:30", "accepted", "agreed role", []string{"tove"},
		"Tove reads and signs for her own water, and for no other."},
	{"2024-05-15-pale-lager-summer-emil", "2024-05-14-pale-lager-summer", "emil", "2024-05-15T07:35", "accepted", "reviewed calculation and limits", nil,
		"Jonas is away. Doses halved and doubled again by hand: agrees."},
	{"2024-11-05-wicket-bitter-jonas", "2023-11-08-wicket-bitter", "jonas", "2024-11-05T16:10", "accepted", "yearly renewal", []string{"2024-11-05-north-well"},
		"Recomputed with this morning's well: sulfate has moved by about 9, still well inside. One more year."},
	{"2024-11-13-pale-lager-winter-jonas", "2024-11-12-pale-lager-winter", "jonas", "2024-11-13T09:15", "accepted", "reviewed calculation and limits", nil, ""},
	{"2025-02-18-pale-lager-main-break-jonas", "2025-02-17-pale-lager-main-break", "jonas", "2025-02-18T23:10", "accepted", "review after emergency use", nil,
		"41 hours late is 17 too many; I was on the mainland and should have said so. The calculation is right\nand nothing went over a limit. Batch released."},
	{"2025-03-04-bench-jonas", "2025-03-04-bench", "jonas", "2025-03-04T15:10", "accepted", "agreed why the finding is silent", []string{"2025-03-04-bench"}, ""},
	{"2025-03-12-pale-lager-main-break-jonas", "2025-02-17-pale-lager-main-break", "jonas", "2025-03-12T16:20", "accepted", "reviewed again after a failed check of the meter", nil,
		"Ines has written under the change why its chloride stands, so I sign what is there now. The kept bottle\nreads the same on the new meter. Nothing in the dose has moved."},
	{"2025-03-12-034-jonas", "2025-034", "jonas", "2025-03-12T16:30", "accepted", "agreed why the finding is silent", []string{"2025-034", "2025-02-17-pale-lager-main-break"},
		"The delay was mine; the batch says so, and that is enough."},
	{"2025-05-14-pale-lager-summer-jonas", "2025-05-13-pale-lager-summer", "jonas", "2025-05-14T08:40", "accepted", "reviewed calculation and limits", nil,
		"Alkalinity after the acid is close to 20. Not lower, please."},
	{"2025-10-14-bench-jonas", "2025-10-14-bench", "jonas", "2025-10-14T16:20", "accepted", "agreed why the finding is silent", []string{"2025-10-14-bench"}, ""},
	{"2025-10-21-wicket-bitter-jonas", "2023-11-08-wicket-bitter", "jonas", "2025-10-21T17:05", "accepted", "yearly renewal", []string{"2025-10-14-north-well"},
		"Recomputed with the well of 14 October: sulfate 237, which is 20 more than when I first signed and\n0.4 u under our 240. I sign for one more year with open eyes, and I want the well's sulfate every month."},
	{"2025-10-22-north-well-jonas", "north-well", "jonas", "2025-10-22T09:30", "accepted", "agreed limit and schedule", []string{"north-well"},
		"Sulfate at 300 is our own line, not the waterworks': above it we talk, below it we brew."},
	{"2025-11-03-recalled-jonas", "2025-09-16-north-well", "jonas", "2025-11-03T16:40", "accepted", "agreed why the findings are silent", recalled,
		"Gone through one by one with Ines: no dose depends on any of these sulfates any more."},
	{"2025-11-04-dark-mild-well-jonas", "2025-09-24-dark-mild-well", "jonas", "2025-11-04T10:20", "refused", "reviewed calculation and limits", nil,
		"The arithmetic is right and the well is wrong: the session stands on SU-2507, which reads 18 % low. With\nthe true sulfate it would still fit, but I do not sign a number that we know to be false. Please propose it\nagain on a good session, Pia. It is a nice idea."},
	{"2025-11-19-pale-lager-winter-jonas", "2025-11-18-pale-lager-winter", "jonas", "2025-11-19T08:10", "accepted", "reviewed calculation and limits", nil, ""},
	{"2026-05-13-pale-lager-summer-jonas", "2026-05-12-pale-lager-summer", "jonas", "2026-05-13T07:55", "accepted", "reviewed calculation and limits", nil,
		"Certificates of CC-25-09 and LA-26-01 seen."},
	{"2026-05-21-tarrow-lane-tove", "2026-05-20-tarrow-lane", "tove", "2026-05-21T11:05", "accepted", "received and understood", []string{"2026-05-20-tarrow-lane"}, ""},
	{"2026-06-12-wicket-bitter-less-gypsum-jonas", "2026-06-11-wicket-bitter-less-gypsum", "jonas", "2026-06-12T09:40", "accepted", "reviewed calculation and limits", nil,
		"Asked for the calcium to be held, and it is. Margin to the lower sulfate bound is 2.9 u. Good."},
	{"2026-07-01-pale-lager-lower-jonas", "2026-06-30-pale-lager-lower", "jonas", "2026-07-01T08:30", "accepted", "reviewed calculation and limits", nil, ""},
}

// reviewed finds the first sign-off of a record.
func reviewed(of string) *signoff {
	for i := range signoffs {
		if signoffs[i].of == of {
			return &signoffs[i]
		}
	}
	return nil
}
