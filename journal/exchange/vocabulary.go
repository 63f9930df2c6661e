package exchange

import (
	"regexp"
	"strings"
	"sync"

	"wj/water"
)

// analyteWords are the names under which laboratories and agencies report, in
// English, German, French and Spanish, and formulas, folded as foldName does.
// Names that can mean two things (GH, KH, hardness without a word more, residual
// chlorine) are left out on purpose. Words of the trade; common practice, no source.
var analyteWords = map[water.ID]string{
	water.PHValue:                "ph phwert phlab phfield phvalue potentielenhydrogene zuurgraad",
	water.Alkalinity:             "alkalinity totalalkalinity alk talk alkalinitytotal alkalinitat saurekapazitat saurekapazitatph43 saurekapazitatbisph43 saurekapazitatbisphwert43 saurekapazitatks43 ks43 alcalinite titrealcalimetriquecomplet tac alcalinidad",
	water.CalciumHardness:        "calciumhardness hardnesscalcium cahardness hardnessca calciumharte",
	water.TotalHardness:          "totalhardness hardnesstotal hardnesscamg gesamtharte duretetotale durezatotal",
	water.MagnesiumHardness:      "magnesiumhardness hardnessmagnesium mghardness",
	water.Calcium:                "ca ca2+ ca+2 ca++ calcium kalzium calcio",
	water.Magnesium:              "mg mg2+ mg+2 mg++ magnesium magnesio",
	water.Sodium:                 "na na+ na+1 sodium natrium sodio",
	water.Potassium:              "k k+ k+1 potassium kalium potasio",
	water.Chloride:               "cl cl- cl-1 chloride chlorid chlorure chlorures cloruro cloruros",
	water.Sulfate:                "so4 so42- so4-2 so4-- so4= sulfate sulphate sulfat sulfates sulfato sulfatos",
	water.Bicarbonate:            "hco3 hco3- hco3-1 bicarbonate hydrogencarbonate hydrogencarbonat bicarbonates bicarbonato",
	water.Carbonate:              "co3 co32- co3-2 co3-- carbonate carbonat carbonates carbonato",
	water.Nitrate:                "no3 no3- no3-1 nitrate nitrat nitrates nitrato nitraten nitratenitrogen nitrogennitrate no3n no3-n",
	water.Nitrite:                "no2 no2- no2-1 nitrite nitrit nitrites nitrito nitriten nitritenitrogen no2n no2-n",
	water.Ammonium:               "nh4 nh4+ nh4+1 ammonium amonio ammoniumn ammoniumnitrogen nh4n nh4-n",
	water.Fluoride:               "f f- f-1 fluoride fluorid fluorure fluoruro",
	water.Phosphate:              "po4 po43- po4-3 orthophosphate phosphate phosphat orthophosphat po4p po4-p",
	water.Silica:                 "sio2 silica silice kieselsaure",
	water.Iron:                   "fe fe2+ iron eisen fer hierro ironfe",
	water.Manganese:              "mn mn2+ manganese mangan manganeso",
	water.Copper:                 "cu cu2+ copper kupfer cuivre cobre",
	water.Zinc:                   "zn zn2+ zinc zink",
	water.FreeChlorine:           "freechlorine chlorinefree freeavailablechlorine freieschlor chlorelibre",
	water.TotalChlorine:          "totalchlorine chlorinetotal totalresidualchlorine gesamtchlor",
	water.ElectricalConductivity: "ec conductivity electricalconductivity elconductivity specificconductance leitfahigkeit elektrischeleitfahigkeit elleitfahigkeit conductivite conductividad cond specificconductivity spcond speccond econd ec25 ec25c elektrischeleitfahigkeit25c geleidendheid",
	water.DissolvedSolids:        "tds totaldissolvedsolids dissolvedsolids",
	water.TurbidityValue:         "turbidity trubung turbidite turbidez turb",
	water.SampleTemperature:      "temperature temp watertemperature temperaturewater temperatur temperaturedeleau temperaturadelagua temperaturadelacqua wassertemperatur temperatura tempwater tempc wtemp",
}

// wordIndex is analyteWords the other way round, with the keys, titles and
// exchange names of the analyte table.
var wordIndex = sync.OnceValue(func() map[string]water.ID {
	m := map[string]water.ID{}
	for name, id := range namesOf() {
		m[name] = id
	}
	for id, words := range analyteWords {
		for _, w := range strings.Fields(words) {
			m[foldName(w)] = id
		}
	}
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		for _, name := range []string{id.Info().Key, id.Info().Title, id.Info().Exchange} {
			m[foldName(name)] = id
		}
	}
	return m
})

// doubtfulWords are heads that can mean two or more things: which one a person must
// say. Folded as foldName does; common practice, no source.
var doubtfulWords = map[string]string{
	"hard": "total_hardness or calcium_hardness", "hardness": "total_hardness or calcium_hardness", "th": "total_hardness, or thorium", "gh": "total_hardness",
	"kh": "alkalinity or carbonate_hardness", "ta": "alkalinity", "harte": "total_hardness or carbonate_hardness",
	"chlorine": "free_chlorine or total_chlorine", "residualchlorine": "free_chlorine or total_chlorine", "cl2": "free_chlorine or total_chlorine",
	"si": "silica, as Si", "p": "phosphate, as P", "n": "nitrate, as N, or all nitrogen", "totalsolids": "dissolved_solids, or with what is suspended",
}

// roleWords are heads of columns that are no results.
var roleWords = sync.OnceValue(func() map[string]string {
	m := map[string]string{}
	for role, words := range map[string]string{
		"maybe site": "id name sample samplename sampleid sampleidentifier source code bezeichnung nombre nom",
		"x":          "x xcoord coordx",
		"y":          "y ycoord coordy",
		"year":       "year jahr annee ano anno rok ar aar vuosi leto godina ev an metai gads aasta jaar",
		"month":      "month monat mois mes mese maand maned manad kuukausi miesiac mesic mesiac mjesec mesec honap luna menuo menesis kuu",
		"statistic":  "statistic statistics statistik kennwert stat",
		"site": "site station well wellid wellname wellno wellnumber location locationid locationname locationidentifier monitoringlocationidentifier siteid sitename siteno stationid stationname " +
			"samplingpoint samplepoint point borehole bore piezometer piezometro piezometre messstelle messstellennummer entnahmestelle sitecode stationcode pointid loc place probenahmestelle punkt messpunkt brunnen pointdeprelevement codestation punto pozo sitenumber siteno odbernemisto odberovemiesto miejscepobrania punktpoboru naytteenottopaikka havaintopaikka provtagningsplats provplats provested prøvested puntodiprelievo punto-di-prelievo pontodeamostragem monsterpunt meetpunt locatie mintavetelihely mjestouzorkovanja mestoodvzema vieta codebss nomstation libellestation eminiovieta proovivotukoht paraugavieta puntodemuestreo puntdeprelevare",
		"date":       "date sampledate datesampled samplingdate sampled collectiondate datecollected activitystartdate datum probenahmedatum entnahmedatum datedeprelevement fecha sampledt dateprelevement datetime timestamp sampledatetime creationdate dateofsampling dateofcollection samplecollectiondate data dato datumodberu datumodobratia datapobrania datapobraniaprobki paivamaara naytteenottopaiva pvm provtagningsdatum prøvedato prodato provetagningsdato dataprelievo datadiprelievo datadacolheita datum datumbemonstering monsterdatum datummonstername datumuzorkovanja datumodvzema mintaveteldatuma kuupaev datums eminiodata fechademuestreo fechamuestreo dataprelevarii",
		"time":       "time sampletime samplingtime timesampled activitystarttime activitystarttimetime uhrzeit probenahmezeit heure hora sampletm",
		"name":       "parameter analyte characteristic charateristicname characteristicname determinand test parametername resultcharacteristic libelleparametre parametro parametr parameteri parametru ukazatel wskaznik muuttuja maaritys analyysi stof rodiklis naitaja raditajs pokazatelj jellemzo komponens komponent amne substans untersuchungsparameter bezeichnungparameter analit analiet naam nomparam nomparametre libelleparam parametre",
		"value":      "value result resultvalue resultmeasure resultmeasurevalue measurement messwert wert ergebnis resultat valor resultva concentration vysledek vysledok wynik tulos resultado risultato resultaat resultat hodnota wartosc arvo eredmeny rezultat rezultatas verte vaartus vertiba valoare vardi verdi waarde valeur",
		"unit":       "unit units resultunit resultmeasureunit einheit unite unidad unidade unita jednotka jednostka yksikko enhed enhet eenheid mertekegyseg jedinica enota unitate vienetas vienetai uhik mervieniba uom resultmeasuremeasureunitcode symboleunite symunite",
		"flag":       "qualifier flag qual remark resultqualifier remarkcd censored symbol coderemarque coderemarqueanalyse limietsymbool bepalingsgrens resultdetectionconditiontext detectioncondition",
		"limit":      "detectionlimit mdl lod dl reportinglimit rl pql loq nachweisgrenze bestimmungsgrenze limitedequantification limitequantification limitededetection limitedeteccion limitededeteccion detectionquantitationlimitmeasuremeasurevalue detectionlimitmeasurea",
		"limit unit": "detectionquantitationlimitmeasuremeasureunitcode detectionlimitunit limitunit",
		"basis":      "basis speciation methodspeciation resultmethodspeciation",
		"laboratory": "lab laboratory labor laboratoire laboratorio labname",
		"latitude":   "lat latitude latitudedd locationlatitude latitud breite breitengrad ylat",
		"longitude":  "lon long lng longitude longitudedd locationlongitude longitud lange langengrad xlon",
		"note":       "remarks comment comments note notes bemerkung bemerkungen remarque",
		"group":      "samplenumber sampleno labno labnumber labid labornummer probennummer activityactivityidentifier",
	} {
		for _, w := range strings.Fields(words) {
			m[w] = role
		}
	}
	return m
})

var markFold = sync.OnceValue(func() *strings.Replacer {
	pairs := []string{"₀", "0", "₁", "1", "₂", "2", "₃", "3", "₄", "4", "²", "2", "³", "3", "⁺", "+", "⁻", "-", "−", "-", "–", "-"}
	for r, plain := range likeness() {
		pairs = append(pairs, string(r), plain)
	}
	return strings.NewReplacer(pairs...)
})

// foldName makes names comparable: small letters without marks, no blanks and no
// punctuation but the signs of charges.
func foldName(s string) string {
	s = markFold().Replace(strings.ToLower(s))
	var b strings.Builder
	for _, r := range s {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '+' || r == '-' || r == '=' {
			b.WriteRune(r)
		}
	}
	return strings.Trim(b.String(), "-=")
}

// analyteNamed finds the analyte that a name means.
func analyteNamed(name string) (water.ID, bool) {
	folded := foldName(name)
	id, ok := wordIndex()[folded]
	if !ok {
		id, ok = wordIndex()[strings.ReplaceAll(folded, "-", "")]
	}
	return id, ok
}

// roleNamed finds what a column is that holds no results.
func roleNamed(head string) string {
	return roleWords()[strings.ReplaceAll(foldName(head), "-", "")]
}

// asBasis finds "as CaCO3" in a head.
var asBasis = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)[\s(_-]*\bas[\s_]+(CaCO3|CaO|HCO3|NO3|NO2|NH4|PO4|SiO2|SO4|Cl2|N|P|S|Si|Ca|Mg)\b\)?`)
})

// at25 finds the temperature that a conductivity here is always at.
var at25 = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)(?:@|\b(?:at|bei|a|à|ved|vid|bij|przy|pri))?\s*\b25\s*(?:[°º]\s*|deg\s*)?C\b`)
})

// at20 finds a conductivity that is that at 20 degC: about a tenth lower than at 25 (factor 1.116, EN 27888:1993, from memory).
var at20 = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\b20\s*[°º]?\s*C\b`) })

// bracketed finds what a head has in brackets.
var bracketed = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[(\[]([^()\[\]]*)[)\]]`) })

// basisAlone is a basis in brackets without a unit beside it: "Alkalinity (CaCO3)".
var basisAlone = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^(?i)(CaCO3|NO3|NO2|NH4|PO4|SiO2|N|P)$`) })

// nitrogenName finds names of nitrogen counted as N.
var nitrogenName = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^(no3|no2|nh4|nitrat[eo]?|nitrit[eo]?|ammonium|amonio)-?(n|nitrogen)$|^nitrogen-?(nitrate|nitrite|ammonium)$`)
})

// namedIn finds the analyte that some words mean, with and without those that say nothing of what
// it is.
func namedIn(words []string) (water.ID, bool) {
	if id, ok := analyteNamed(strings.Join(words, " ")); ok {
		return id, true
	}
	var kept []string
	for _, w := range words {
		switch strings.ToLower(w) {
		case "mittel", "mittelwert", "moyenne", "media", "średnia", "průměr", "medel", "keskiarvo", "gemiddelde", "average", "dissolved", "diss", "dis", "filtered", "filt", "total", "tot", "field", "lab", "insitu", "meas", "measured", "value", "mean", "avg", "ion", "concentration", "conc", "content":
		default:
			kept = append(kept, w)
		}
	}
	return analyteNamed(strings.Join(kept, ""))
}

// readHead takes a head apart: the analyte that it names, and the unit where it
// says one. exact says that the unit was found.
func readHead(head string) (id water.ID, unit water.Unit, exact, ok bool) {
	basis := ""
	rest := at25().ReplaceAllString(head, " ")
	if m := asBasis().FindStringSubmatchIndex(rest); m != nil {
		basis = rest[m[2]:m[3]]
		rest = rest[:m[0]] + " " + rest[m[1]:]
	}
	found := func(text string) bool {
		text = strings.TrimSpace(strings.Trim(strings.TrimSpace(text), ",;:"))
		if u, good := water.ParseUnit(text); good && !strings.EqualFold(text, "m") && text != "C" && text != "F" && text != "g" && text != "L" {
			unit, exact = u, true
		}
		return exact
	}
	alone := ""
	for _, m := range bracketed().FindAllStringSubmatch(rest, -1) {
		if basisAlone().MatchString(strings.TrimSpace(m[1])) {
			alone = strings.TrimSpace(m[1])
		}
	}
	for _, m := range bracketed().FindAllStringSubmatchIndex(rest, -1) {
		if found(rest[m[2]:m[3]]) {
			rest = rest[:m[0]] + " " + rest[m[1]:]
			break
		}
	}
	name := bracketed().ReplaceAllString(rest, " ")
	id, ok = analyteNamed(name)
	if !ok || !exact {
		// "SO4 mg/L", "Ca_mg_l", "Mg, mg/L": the unit may be the last words.
		words := strings.FieldsFunc(strings.ReplaceAll(name, "mg_l", "mg/l"), func(r rune) bool { return r == ' ' || r == ',' || r == ';' || r == '_' || r == ':' })
		for n := len(words) - 1; n >= 1 && !exact; n-- {
			tail := strings.Join(words[n:], " ")
			switch strings.ToLower(tail) {
			case "mg l", "mgl", "mg/l.":
				tail = "mg/L"
			case "ug l", "ugl":
				tail = "ug/L"
			case "us cm", "uscm":
				tail = "uS/cm"
			}
			if head, known := namedIn(words[:n]); known && found(tail) {
				id, ok = head, true
				name = strings.Join(words[:n], " ")
			}
		}
		if !ok {
			// "Calcium, dissolved", "NO3 -": drop words that say nothing of what it is.
			id, ok = namedIn(words)
		}
	}
	if !ok {
		// "Alkalinity as CaCO3 mg/L": the name alone, once basis and unit are gone.
		return 0, unit, exact, false
	}
	if id == water.ElectricalConductivity && at20().MatchString(head) {
		return 0, unit, exact, false // here it is that at 25 degC
	}
	if basis != "" && exact {
		if u, good := water.ParseUnit(unit.With(water.NoBasis).String() + " as " + basis); good {
			unit = u
		}
	}
	if exact && basis == "" && nitrogenName().MatchString(foldName(name)) {
		unit = unit.With(water.AsN)
	} else if exact && alone != "" && id.Info().FitUnit(unit) != nil {
		if u, good := water.ParseUnit(unit.String() + " as " + alone); good && id.Info().FitUnit(u) == nil {
			unit = u
		}
	}
	if !exact && id == water.SampleTemperature {
		for _, m := range bracketed().FindAllStringSubmatch(rest, -1) {
			if m[1] == "C" || m[1] == "F" {
				unit, exact = water.ParseUnit("deg" + m[1])
			}
		}
	}
	return id, unit, exact, true
}
