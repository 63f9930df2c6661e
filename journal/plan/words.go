package plan

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

// ParseShare reads "40%", "30..60 %" or nothing.
func ParseShare(text string) (least, most float64, err error) {
	if text = strings.TrimSpace(text); text == "" {
		return 0, 1, nil
	}
	number, ok := strings.CutSuffix(text, "%")
	if !ok {
		return 0, 0, advise("write 40% or 30..60%", "%q has no %% sign", text)
	}
	low, high, between := strings.Cut(number, "..")
	if !between {
		high = low
	}
	least, err1 := strconv.ParseFloat(strings.TrimSpace(low), 64)
	most, err2 := strconv.ParseFloat(strings.TrimSpace(high), 64)
	if err := errors.Join(err1, err2); err != nil || !(least >= 0 && least <= most && most <= 100 && most > 0) {
		return 0, 0, advise("write 40% or 30..60%", "%q is not a part of 100 %%", text)
	}
	return least / 100, most / 100, nil
}

// NamedDose reads "gypsum=210 g" or "lactic_acid=75 mL, 80 % w/w". Without
// strength it is that of the lot in stock.
func NamedDose(text string, shelf []treat.Product) (treat.Addition, error) {
	key, amount, ok := strings.Cut(text, "=")
	if !ok {
		return treat.Addition{}, advise("write it as gypsum=\"210 g\"", "%q is not an addition", text)
	}
	s, known := substance.ByKey(strings.TrimSpace(key))
	if !known {
		_, err := substance.Find(strings.TrimSpace(key))
		return treat.Addition{}, err
	}
	amount, strength, _ := strings.Cut(amount, ",")
	q, err := water.ParseQuantity(strings.TrimSpace(amount))
	if err != nil {
		return treat.Addition{}, fmt.Errorf("read the amount of %s: %w", s.Key, err)
	}
	var g treat.Product
	found := false
	for _, x := range shelf {
		if x.Substance == s.Key {
			g, found = x, true
		}
	}
	switch strength = strings.TrimSpace(strength); {
	case strength != "" && strings.Contains(strength, "/"):
		g, err = treat.NewProduct(s.Key, water.Quantity{}, strength)
	case strength != "" && s.Liquid:
		return treat.Addition{}, advise(fmt.Sprintf("%s w/w (of the mass), as most labels say, or %s w/v (of the volume)", strength, strength), "the strength %s of %s does not say of what", strength, strings.ReplaceAll(s.Key, "_", " "))
	case strength != "":
		var assay water.Quantity
		if assay, err = treat.ParseAssay(strength); err == nil {
			g, err = treat.NewProduct(s.Key, assay, "")
		}
	case !found:
		g, err = treat.NewProduct(s.Key, water.Quantity{}, "")
	}
	if err != nil {
		return treat.Addition{}, err
	}
	return treat.NewAddition(g, q)
}

// LitresOf reads a volume of water, as it is and in litres; example is what could have been
// written.
func LitresOf(text, example string) (q water.Quantity, litres float64, err error) {
	if q, err = water.ParseQuantity(text); err != nil {
		return q, 0, advise("write it as "+example, "read the volume: %w", err)
	}
	litres, err = q.In(water.Litre)
	switch {
	case q.Unit.IsNone():
		return q, 0, advise("write it as "+example, "the volume %q is without its unit", text)
	case err != nil || q.Bound != water.Exact:
		return q, 0, advise("write it as "+example, "%q is not a volume of water", text)
	case q.Expanded > 0:
		return q, 0, advise("write it as "+example, "%q: a dose is for one volume, without ±", text)
	case !(litres > 0):
		return q, 0, advise("write it as "+example, "a volume of %s is not above zero", text)
	}
	return q, litres, nil
}

func substances(names []string) ([]string, error) {
	var out []string
	for _, n := range names {
		s, ok := substance.ByKey(strings.TrimSpace(n))
		if !ok {
			_, err := substance.Find(n)
			return nil, err
		}
		out = append(out, s.Key)
	}
	return out, nil
}

// Between what pH acid may lead liquor: the lower is where dose/over-acid refuses
// it, the upper the end of bicarbonate (Standard Methods 2320 B, 8.3).
const leastLiquorPH, mostLiquorPH = 4.5, 8.3

// acidTo replaces a target by one value that must be met, as nearly as it can be
// measured: pH within 0.05, alkalinity within 2 mg/L CaCO3.
func acidTo(text string, targets []treat.Target) ([]treat.Target, error) {
	key, value, ok := strings.Cut(text, "=")
	if !ok {
		key, value = "alkalinity", text
	}
	key = strings.TrimSpace(key)
	mash := key == "mash_pH"
	if mash {
		key = "pH"
	}
	id, known := water.Lookup(key)
	if !known || id != water.Alkalinity && id != water.ResidualAlkalinity && id != water.PHValue {
		return nil, advise("alkalinity, residual_alkalinity, pH of the liquor or mash_pH", "acid does not lead to %q", key)
	}
	q, err := water.ParseQuantity(strings.TrimSpace(value))
	if err == nil {
		err = id.Info().Fit(q)
	}
	if err != nil {
		return nil, fmt.Errorf("read where the acid is to lead: %w", err)
	}
	v, near := id.Info().Standard(q), 2.0
	if id == water.PHValue {
		near = 0.05
	}
	if mash {
		near = 0.1
	}
	if mash && !(v >= 4.8 && v <= 6.2) {
		return nil, advise("mash_pH=5.4, say", "no mash is led to pH %g", v)
	}
	if id == water.PHValue && !mash && !(v >= leastLiquorPH && v <= mostLiquorPH) {
		return nil, advise("pH=6.4, say", "acid does not lead liquor to pH %g: below %g it holds no alkalinity, above %g it takes none", v, leastLiquorPH, mostLiquorPH)
	}
	out := []treat.Target{{ID: id, Mash: mash, Min: v - near, Max: v + near, Aim: v, Weight: 1}}
	for _, t := range targets {
		if t.ID != id || t.Mash != mash {
			out = append(out, t)
		}
	}
	return out, nil
}

// ParseChance reads "95 %" or 0.95 as a part of 1; between a half and 0.999.
func ParseChance(text string) (float64, error) {
	number, percent := strings.CutSuffix(strings.TrimSpace(text), "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if percent || v > 1 {
		v /= 100
	}
	if err != nil || !(v >= 0.5 && v <= 0.999+1e-9) {
		return 0, advise("write it as 95 % or 0.95", "%q is not a chance between 50 and 99.9 %%", text)
	}
	return v, nil
}
