package spelling

// words holds for a name, of whichever sort, the other words that people of the
// trade and of other programs use for it. Those of an analyte are in its row of
// the analyte table. A word is only offered where the name is known in that
// place, so "report" is the summary among commands and the report among records.
// Common practice, no source.
var words = map[string][]string{
	// kinds of record, in the singular and as folders
	"lot": {"reagent", "pack", "batch number", "additive", "salt"}, "lots": {"reagents", "packs", "additives", "salts"},
	"instrument": {"meter", "photometer", "probe", "electrode", "device"}, "instruments": {"meters", "photometers", "probes", "devices"},
	"owner": {"client", "customer", "brewery"}, "owners": {"clients", "customers"},
	"site": {"tap", "point", "sampling point", "location", "source water"}, "sites": {"taps", "points", "locations"},
	"person": {"tester", "user", "staff", "analyst"}, "people": {"persons", "users", "staff", "testers"},
	"method": {"procedure", "test method", "protocol"}, "methods": {"procedures", "protocols"},
	"session": {"test", "sample", "reading", "measurement", "analysis"}, "sessions": {"tests", "samples", "readings", "measurements", "analyses", "results"},
	"target": {"profile", "water profile"}, "targets": {"profiles"},
	"change": {"proposal", "recipe", "treatment"}, "changes": {"proposals", "recipes", "treatments"},
	"signoff": {"approval", "signature", "review"}, "signoffs": {"approvals", "signatures", "reviews"},
	"batch": {"brew"}, "batches": {"brews"}, "event": {"incident", "maintenance"}, "events": {"incidents"},
	"action": {"deviation", "corrective action", "capa"}, "actions": {"deviations", "corrective actions"},
	"report": {"letter", "certificate"}, "reports": {"letters", "certificates"}, "settings": {"config", "configuration", "wj.yaml"},

	// commands
	"ls": {"list", "dir"}, "lint": {"check", "validate", "test"}, "amend": {"edit", "correct", "fix", "change"}, "void": {"delete", "remove", "rm", "cancel"},
	"new": {"add", "create", "record"}, "enter": {"measure", "bench", "run"}, "query": {"search", "find", "grep", "filter", "select", "where", "ask"},
	"log": {"history", "audit"}, "blame": {"who", "annotate"}, "diff": {"compare"}, "chart": {"plot", "graph", "draw"}, "stock": {"inventory", "supplies"},
	"due": {"schedule", "overdue", "calendar"}, "stats": {"statistics", "trend"}, "treat": {"dose", "blend", "calculate", "calc", "solve"},
	"sign": {"approve", "accept", "signoff", "reject", "refuse"}, "review": {"inspect"}, "sheet": {"print", "brew sheet", "brewday"}, "verify": {"prove"},
	"bundle": {"archive", "evidence", "zip"}, "summary": {"report", "page"}, "mail": {"email", "send"}, "export": {"csv", "download"}, "import": {"load", "upload"},
	"convert": {"unit", "units"}, "explain": {"help", "what", "doc", "docs"}, "show": {"cat", "view", "get", "open", "display"}, "status": {"todo", "st"},
	"trace": {"recall", "depends", "graph"}, "map": {"where"}, "init": {"start", "setup"}, "demo": {"example", "sample"}, "schema": {"jsonschema"}, "version": {"about"},

	// names of the query language
	"sampled": {"date", "time", "when", "day"}, "by": {"person", "tester", "who", "user"}, "source": {"lab"}, "laboratory": {"lab"},

	// units
	"mg/L": {"ppm", "milligrams per litre"}, "ug/L": {"ppb"}, "gpg": {"grains", "grains per gallon"}, "uS/cm": {"micros", "microsiemens", "us"},
	"degC": {"celsius", "centigrade"}, "degF": {"fahrenheit"}, "dH": {"german degree", "german degrees", "dgh", "gh", "degree"}, "dKH": {"kh", "german degree of alkalinity"},
	"fH": {"french degree", "french degrees"}, "eH": {"clark", "english degree"}, "gal_us": {"gallon", "gal", "us gallon"}, "gal_br": {"gallon", "gal", "imperial gallon"},
	"bbl_us": {"barrel", "bbl"}, "bbl_br": {"barrel", "bbl"}, "hL": {"hecto", "hectolitre", "hectoliter"}, "d": {"day"}, "h": {"hour"}, "wk": {"week"}, "mo": {"month"},
}
