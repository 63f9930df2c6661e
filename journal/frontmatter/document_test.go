package frontmatter

const session = `---
site: north-well
sampled: 2026-03-04T08:15+01:00
tested: 2026-03-04T08:40+01:00
by: ines
instrument: meter-2
place: [54.6872, 25.2797]
readings:
  pH:               {value: 7.42, lot: PH-2509}
  alkalinity:       {value: 118 mg/L CaCO3, lot: AL-2511}
  calcium_hardness: {value: 92 mg/L CaCO3, lot: CH-2510}
  total_hardness:   {value: 138 mg/L CaCO3, lot: TH-2510}
  chloride:         {value: [21 mg/L, 22 mg/L], lot: CL-2511}
  sulfate:          {value: 168 mg/L, dilution: 2, lot: SU-2511}
  temperature:      11.5 degC
---

Second sulfate strip after the first ran past the range; sample cut 1:1 with distilled water.
`
