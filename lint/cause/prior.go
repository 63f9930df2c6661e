package cause

// priors is how often each family is the cause where a session is wrong. They are
// our own choice, as all standard deviations below; the threshold is calibrated
// with them on simulated good sessions (TestGoodJournals).
var priors = [numKinds]float64{
	Unit: 0.17, Ten: 0.06, Typo: 0.10, Swap: 0.08, Dilution: 0.10, Bottle: 0.11, Supply: 0.05, Lot: 0.05,
	Test: 0.08, Meter: 0.04, Change: 0.10, Treatment: 0.05, Cut: 0.03,
}

const (
	atItsStage = 6.0  // Treatment, at a membrane or a softener
	offRange   = 0.25 // Dilution, of a test that is nowhere near its range
	freshLot   = 30.0 // Lot, that was just opened
	usedLot    = 0.2  // Lot, where none was just opened
	byFeed     = 20.0 // Change and Supply, where the feed has changed within a week

	// DefaultOdds is the Bayes factor from which a session is reported.
	DefaultOdds = 10.0
	nameable    = 0.15 // posterior from which the runner-up is named
)

// The slips of a finger and their shares (after Damerau 1964).
const transposed, lost, doubled, replaced = 0.35, 0.20, 0.15, 0.30

// Standard deviations, in natural logarithms where nothing else is said.
const (
	seasonCommon, seasonOwn, seasonPH, seasonOffset     = 0.035, 0.015, 0.05, 0.008
	walkCommon, walkOwn, walkPH, walkOffset             = 0.0020, 0.0014, 0.004, 0.0005 // in a day
	weatherCommon, weatherOwn, weatherPH, weatherOffset = 0.012, 0.008, 0.05, 0.008
	walkShare                                           = 0.010      // of a membrane that ages
	offsetMiddle, offsetSD                              = 0.03, 0.08 // conductivity over what the rough sum of ions makes
	changeCommon, changeOwn                             = 0.30, 0.20
	otherCommon, otherOwn                               = 0.50, 0.70
	lotSD, testSD, testPH, testTrace, meterSD           = 0.18, 0.45, 0.8, 1.2, 0.09 // a trace, such as nitrate or iron, may truly be ten times as high
	treatmentMove, treatmentSD                          = 0.9, 0.5
	cycleSD                                             = 0.3 // of what is left of the hardness, from one regeneration to the next
	fedOwn                                              = 0.06
	startCommon, startOwn, startPH                      = 1.1, 0.6, 0.6
	startPair                                           = 0.35 // calcium hardness beside total hardness
)
