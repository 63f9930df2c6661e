package exchange

import (
	_ "embed"
	"regexp"
	"strings"
	"sync"
	"time"

	"wj/water"
)

// namesTable has the names of analytes in other languages; its head says where from.
//
//go:embed names.tsv
var namesTable string

// namesOf are the names of the table, folded as foldName does. A name that two analytes have is
// none's.
var namesOf = sync.OnceValue(func() map[string]water.ID {
	m, twice := map[string]water.ID{}, map[string]bool{}
	for line := range strings.Lines(namesTable) {
		fields := strings.Split(strings.TrimSpace(line), "\t")
		if len(fields) != 3 {
			continue
		}
		id, ok := water.LookupAnalyte(fields[1])
		if !ok {
			continue // the line of heads
		}
		for _, name := range strings.Split(fields[2], "|") {
			folded := foldName(name)
			if other, taken := m[folded]; taken && other != id {
				twice[folded] = true
			}
			m[folded] = id
		}
	}
	for name := range twice {
		delete(m, name)
	}
	return m
})

// monthNames are the months in other languages, from January on (Unicode CLDR 46, stand-alone wide
// forms; from memory).
var monthNames = []string{
	"january february march april may june july august september october november december",
	"januar februar märz april mai juni juli august september oktober november dezember",
	"janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
	"enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
	"gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
	"janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro",
	"januari februari maart april mei juni juli augustus september oktober november december",
	"januar februar marts april maj juni juli august september oktober november december",
	"januar februar mars april mai juni juli august september oktober november desember",
	"januari februari mars april maj juni juli augusti september oktober november december",
	"tammikuu helmikuu maaliskuu huhtikuu toukokuu kesäkuu heinäkuu elokuu syyskuu lokakuu marraskuu joulukuu",
	"jaanuar veebruar märts aprill mai juuni juuli august september oktoober november detsember",
	"janvāris februāris marts aprīlis maijs jūnijs jūlijs augusts septembris oktobris novembris decembris",
	"sausis vasaris kovas balandis gegužė birželis liepa rugpjūtis rugsėjis spalis lapkritis gruodis",
	"styczeń luty marzec kwiecień maj czerwiec lipiec sierpień wrzesień październik listopad grudzień",
	"leden únor březen duben květen červen červenec srpen září říjen listopad prosinec",
	"január február marec apríl máj jún júl august september október november december",
	"januar februar marec april maj junij julij avgust september oktober november december",
	"siječanj veljača ožujak travanj svibanj lipanj srpanj kolovoz rujan listopad studeni prosinac",
	"január február március április május június július augusztus szeptember október november december",
	"ianuarie februarie martie aprilie mai iunie iulie august septembrie octombrie noiembrie decembrie",
}

// monthIndex has each name, and each beginning of three letters or more, that means one month in
// all languages.
var monthIndex = sync.OnceValue(func() map[string]time.Month {
	m, twice := map[string]time.Month{}, map[string]bool{}
	add := func(word string, month time.Month) {
		if other, taken := m[word]; taken && other != month {
			twice[word] = true
		}
		m[word] = month
	}
	for _, list := range monthNames {
		for i, name := range strings.Fields(list) {
			folded := foldName(name)
			for n := 3; n <= len(folded); n++ {
				add(folded[:n], time.Month(i+1))
			}
		}
	}
	for word := range twice {
		delete(m, word)
	}
	for _, list := range monthNames { // a whole name is that month, though it begins another's: jun, juni
		for i, name := range strings.Fields(list) {
			if folded := foldName(name); folded != "listopad" { // November in the north, October in the south
				m[folded] = time.Month(i + 1)
			}
		}
	}
	for month := time.January; month <= time.December; month++ { // Mar is not Finnish
		m[strings.ToLower(month.String()[:3])] = month
	}
	return m
})

var letters = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\pL{3,}\.?`) })

// monthsIn writes the months of a time in English, as Go's layouts want them.
func monthsIn(text, layout string) string {
	if !strings.Contains(layout, "Jan") {
		return text
	}
	return letters().ReplaceAllStringFunc(text, func(word string) string {
		month, ok := monthIndex()[foldName(word)]
		switch {
		case !ok:
			return word
		case strings.Contains(layout, "January"):
			return month.String()
		}
		return month.String()[:3]
	})
}
