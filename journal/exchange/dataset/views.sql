-- The commonest questions, in what SQLite and PostgreSQL have in common.

CREATE VIEW current_results AS
SELECT * FROM results WHERE is_series = 1;

CREATE VIEW newest_results AS
SELECT r.*
FROM current_results r
JOIN (SELECT journal_id, site_id, analyte, max(sampled_unix) AS newest_unix FROM current_results GROUP BY journal_id, site_id, analyte) n
  ON n.journal_id = r.journal_id AND n.site_id = r.site_id AND n.analyte = r.analyte AND n.newest_unix = r.sampled_unix;

CREATE VIEW limit_checks AS
SELECT c.journal_id, c.site_id, c.session_id, c.sampled_on, c.analyte, c.result_value, c.result_bound, c.result_unit,
  l.record_kind AS limit_kind, l.min_typed, l.max_typed, l.limit_source,
  CASE
    WHEN l.max_value IS NULL THEN 'no upper limit'
    WHEN c.result_bound <> 'below' AND c.low95 >= l.max_value THEN 'over'
    WHEN c.result_value - c.result_u >= l.max_value THEN 'probably over'
    WHEN c.high95 <= l.max_value THEN 'within'
    WHEN c.result_value + c.result_u <= l.max_value THEN 'probably within'
    ELSE 'inconclusive' END AS upper_certainty,
  CASE
    WHEN l.min_value IS NULL THEN 'no lower limit'
    WHEN c.result_bound <> 'above' AND c.high95 <= l.min_value THEN 'under'
    WHEN c.result_value + c.result_u <= l.min_value THEN 'probably under'
    WHEN c.low95 >= l.min_value THEN 'within'
    WHEN c.result_value - c.result_u >= l.min_value THEN 'probably within'
    ELSE 'inconclusive' END AS lower_certainty
FROM current_results c
JOIN limits l ON l.journal_id = c.journal_id AND l.analyte = c.analyte
  AND (l.record_kind = 'settings' OR (l.record_kind = 'sites' AND l.record_id = c.site_id))
WHERE l.valid_from_on IS NULL OR c.sampled_on >= l.valid_from_on;

CREATE VIEW lot_batches AS
SELECT a.journal_id, a.lot_id, b.batch_id, b.beer, b.brewed_on, a.substance, a.amount_typed, a.amount_g, a.amount_l
FROM batch_additions a
JOIN batches b ON b.journal_id = a.journal_id AND b.batch_id = a.batch_id
WHERE a.lot_id IS NOT NULL AND b.record_state = 'held';

CREATE VIEW month_counts AS
SELECT journal_id, site_id, analyte, substr(sampled_on, 1, 7) AS sampled_month, count(*) AS result_count,
  min(known_low) AS lowest, max(known_high) AS highest, avg(result_value) AS mean_of_known, sum(CASE WHEN result_bound = 'exact' THEN 0 ELSE 1 END) AS bound_count
FROM current_results
GROUP BY journal_id, site_id, analyte, substr(sampled_on, 1, 7);

CREATE VIEW lab_pairs AS
SELECT b.journal_id, b.site_id, b.analyte, b.session_id AS bench_session_id, l.session_id AS lab_session_id, b.sampled_on,
  b.result_value AS bench_value, b.result_u AS bench_u, l.result_value AS lab_value, l.result_u AS lab_u, b.result_value - l.result_value AS difference
FROM current_results b
JOIN current_results l ON l.journal_id = b.journal_id AND l.site_id = b.site_id AND l.analyte = b.analyte AND l.sampled_on = b.sampled_on AND l.data_source = 'lab'
WHERE b.data_source = 'bench' AND b.origin = 'measured' AND l.origin = 'measured' AND b.result_bound = 'exact' AND l.result_bound = 'exact';

CREATE VIEW lot_uses AS
SELECT l.journal_id, l.lot_id, l.tests_in_pack, l.tests_lost,
  (SELECT coalesce(sum(coalesce(r.replicate_count, 1)), 0) FROM results r WHERE r.journal_id = l.journal_id AND r.lot_id = l.lot_id AND r.origin = 'measured' AND r.is_void = 0) AS tests_used,
  (SELECT sum(a.amount_g) FROM batch_additions a WHERE a.journal_id = l.journal_id AND a.lot_id = l.lot_id) AS used_g,
  (SELECT sum(a.amount_l) FROM batch_additions a WHERE a.journal_id = l.journal_id AND a.lot_id = l.lot_id) AS used_l,
  l.amount_g, l.amount_l, l.expires_on, l.recalled_on
FROM lots l
WHERE l.record_state = 'held';

CREATE VIEW brew_signoffs AS
SELECT b.journal_id, b.batch_id, b.beer, b.brewed_on, b.change_id, s.signoff_id, s.signer_id, s.decision, s.signed_utc
FROM batches b
LEFT JOIN signoffs s ON s.journal_id = b.journal_id AND s.signed_id = b.change_id AND s.record_state = 'held'
WHERE b.record_state = 'held';

CREATE VIEW recall_walks AS
WITH RECURSIVE walk(journal_id, lot_id, record_kind, record_id, depth) AS (
  SELECT journal_id, lot_id, 'lots', lot_id, 0 FROM lots WHERE recalled_on IS NOT NULL
  UNION
  SELECT w.journal_id, w.lot_id, l.from_kind, l.from_id, w.depth + 1
  FROM walk w
  JOIN record_links l ON l.journal_id = w.journal_id AND l.to_kind = w.record_kind AND l.to_id = w.record_id
  WHERE w.depth < 12 AND w.record_kind <> 'actions' AND l.link_role NOT IN ('supersedes_id', 'standard_lot_id', 'duplicate_of_id', 'replaces_id'))
SELECT journal_id, lot_id, record_kind, record_id, min(depth) AS depth
FROM walk
GROUP BY journal_id, lot_id, record_kind, record_id;

CREATE VIEW overview AS
SELECT s.journal_id, s.site_id, s.site_name, s.stage, count(DISTINCT x.session_id) AS session_count, min(x.sampled_on) AS first_on, max(x.sampled_on) AS last_on
FROM sites s
LEFT JOIN sessions x ON x.journal_id = s.journal_id AND x.site_id = s.site_id AND x.record_state = 'held'
WHERE s.record_state = 'held'
GROUP BY s.journal_id, s.site_id, s.site_name, s.stage;
