package dataset

import (
	"strings"
	"sync"
)

// stems are the names of columns and tables where the key of the schema is not a good
// one: too short to be understood alone, a word that SQL keeps for itself, or one that
// means several things. The path is kind.key.key; [] is the element of a list or mapping.
var stems = map[string]string{
	"person.email": "person_emails", "person.email[]": "email", "person.roles": "person_roles", "person.roles[].role": "role_name",
	"person.roles[].methods": "person_role_methods", "person.roles[].methods[]": "method", "person.roles[].owners": "person_role_owners", "person.roles[].owners[]": "owner",
	"person.roles[].kinds": "person_role_kinds", "person.roles[].kinds[]": "reviewed_kind", "person.keys": "person_keys", "person.keys[].key": "public_key",
	"owner.email": "owner_emails", "owner.email[]": "email", "owner.units": "owner_units", "owner.units[]": "unit_name",
	"site.owner": "site_owners", "site.owner[].owner": "owner", "site.fed_by": "site_feeds", "site.fed_by[]": "feeding_site", "site.schedule": "site_schedules", "site.schedule[].every": "interval",
	"site.schedule[].analytes": "site_schedule_analytes", "site.schedule[].analytes[]": "analyte", "site.limits": "limits", "site.supply": "supply_periods",
	"site.limits[].source": "limit_source", "site.limits[].action": "limit_action", "site.limits[].severity": "limit_severity",
	"lot.analyte": "lot_analytes", "lot.analyte[]": "analyte", "lot.standard": "lot_standards", "lot.standard[]": "assigned", "lot.tests": "tests_in_pack", "lot.losses": "tests_lost",
	"instrument.serial": "serial_no", "instrument.sort": "instrument_sort", "instrument.measures": "measuring_ranges", "method.measures": "measuring_ranges",
	"instrument.measures[].units": "measure_units", "instrument.measures[].units[]": "unit_name", "method.measures[].units": "measure_units", "method.measures[].units[]": "unit_name",
	"instrument.measures[].range": "range", "method.measures[].range": "range",
	"method.analyte": "method_analytes", "method.analyte[]": "analyte", "method.steps": "method_steps", "method.steps[].do": "instruction", "method.interferences": "method_interferences",
	"session.by": "tester", "session.recorded_by": "recorder", "session.source": "data_source", "session.sample": "sample_type", "session.standard": "session_standards", "session.standard[]": "assigned",
	"session.readings": "readings", "session.readings[].value": "", "session.readings[].note": "reading_note",
	"target.ranges": "target_ranges", "target.grist": "grists", "batch.grist": "grists",
	"change.for": "target", "change.basis": "change_waters", "change.add": "change_additions", "change.add[].note": "addition_note", "change.add[].stage": "addition_stage",
	"change.expect": "change_expectations", "change.expect[]": "expected", "change.emergency.by": "emergency_person", "change.emergency.on": "emergency",
	"signoff.of": "signed", "signoff.by": "signer", "signoff.on": "signed", "signoff.meaning": "signature_meaning", "signoff.covers": "signoff_covers", "signoff.covers[]": "sha256",
	"signoff.seen": "seen_commit", "signoff.policy": "policy_sha256", "signoff.settings": "settings_sha256",
	"batch.weighed": "batch_additions", "batch.weighed[].note": "addition_note", "batch.weighed[].stage": "addition_stage", "batch.dosed_by": "doser", "batch.witnessed_by": "witness",
	"batch.mash_pH.value": "mash_ph", "batch.mash_pH.temperature": "mash_ph_temperature", "batch.mash_pH.after": "mash_ph_after", "batch.mash_pH.instrument": "mash_ph_instrument",
	"event.site": "event_sites", "event.site[]": "site", "event.on": "happened", "event.what": "description", "event.sort": "event_sort", "event.by": "person",
	"action.about": "action_subjects", "action.about[]": "subject", "action.by": "finder", "action.closed.by": "closer", "action.closed.on": "closed",
	"report.to": "report_recipients", "report.to[]": "address", "report.by": "sender", "report.files": "report_files", "report.files[]": "sha256", "report.rests_on": "report_covers", "report.rests_on[]": "sha256",
	"anchor.by": "person", "anchor.on": "anchored", "anchor.commit": "anchored_commit", "anchor.journal": "journal_sha256", "anchor.files": "file_count", "anchor.before": "anchor_before", "anchor.before[]": "sha256",
	"*.amended": "amendments", "*.amended[].key": "field_path", "*.amended[].was": "was_typed", "*.amended[].by": "person", "*.amended[].on": "amended",
	"*.ignore": "silences", "*.ignore[]": "reason", "*.attachments": "attachments", "*.attachments[]": "sha256",
	"*.since": "valid_from", "*.until": "valid_until", "*.distilled_pH": "distilled_ph", "*.min": "min", "*.max": "max", "*.method": "method", "session.replicates[]": "",
}

// shared are the tables that hold entries of records of more than one kind: their key
// begins with record_kind and record_id.
var shared = map[string]bool{"amendments": true, "silences": true, "attachments": true, "limits": true, "measuring_ranges": true, "measure_units": true, "grists": true}

// stem is the name of a field at a path such as session.readings[].lot. outer is the
// stem of the mapping that it is written in, where that has no row of its own.
func stem(path, outer string) string {
	if s, ok := stems[path]; ok {
		return s
	}
	kind, rest, _ := strings.Cut(path, ".")
	if s, ok := stems["*."+rest]; ok {
		return s
	}
	key := strings.TrimSuffix(path[strings.LastIndexByte(path, '.')+1:], "[]")
	if s, ok := stems["*."+key]; ok && strings.Contains(rest, ".") {
		return s
	}
	s := strings.ToLower(key)
	switch {
	case outer != "" && s == "on":
		s = outer
	case outer != "":
		s = outer + "_" + s
	case s == "name" || s == kind || Reserved(s):
		s = kind + "_" + s
	}
	return s
}

// tableStem is the name of the table of a list or mapping.
func tableStem(path, parent string) string {
	if s, ok := stems[path]; ok {
		return s
	}
	kind, rest, _ := strings.Cut(path, ".")
	if s, ok := stems["*."+rest]; ok {
		return s
	}
	if parent == "" {
		parent = kind
	}
	return parent + "_" + strings.ToLower(path[strings.LastIndexByte(path, '.')+1:])
}

// Reserved reports whether SQL keeps a word for itself, so that it would have to be
// quoted as the name of a table or column: the reserved words of SQL:2016 (ISO/IEC
// 9075-2, 5.2) and those that PostgreSQL, SQLite or DuckDB reserve beyond it; from memory.
func Reserved(word string) bool { return reservedWords()[word] }

var reservedWords = sync.OnceValue(func() map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(`abs acos all allocate alter analyse analyze and any are array as asc asin asymmetric at atan atomic authorization
autoincrement avg begin between bigint binary blob boolean both by call called cardinality cascaded case cast ceil ceiling char character check classifier
clob close coalesce collate collation collect column commit concurrently condition connect constraint contains convert copy corr corresponding cos cosh
count create cross cube current cursor cycle date day deallocate dec decimal decfloat declare default deferrable define delete dense_rank deref desc
describe deterministic disconnect distinct do double drop dynamic each element else empty end equals escape every except exec execute exists exp external extract
false fetch filter float floor for foreign free freeze from full function fusion get global glob grant group grouping groups having hold hour identity
if ignore ilike in index indicator initial initially inner inout insensitive insert int integer intersect intersection interval into is isnull join key lag lambda language
large last_value lateral lead leading left like limit listagg ln local localtime localtimestamp log lower match materialized max measures member merge method min minute
mod modifies module month multiset natural nchar nclob new no none normalize not nothing notnull null nullif numeric of offset old omit on one only open or order
out outer over overlaps overlay parameter partition pattern per percent period pivot placing portion position power precedes precision prepare primary
procedure ptf qualify range rank reads real recursive ref references referencing regexp release replace result return returning returns revoke right rollback rollup row
rows running savepoint scope scroll search second seek select sensitive session_user set show similar sin sinh skip smallint some specific sql start
static submultiset subset substring succeeds sum summarize symmetric system system_time table tables tablesample tan then time timestamp to top trailing translate
translation transaction treat trigger trim trim_array true truncate uescape union unique unknown unnest unpivot update upper user using vacuum value values variadic varying
verbose versioning view virtual when whenever where width_bucket window with within without year`) {
		m[w] = true
	}
	return m
})
