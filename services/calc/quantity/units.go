package quantity

// Exact factors. The inch and the pound are those of the international
// agreement of 1959; the US gallon is 231 cubic inches and 128 fluid ounces
// (NIST Handbook 44, appendix C).
const (
	MMPerInch   = 25.4
	MMPerFoot   = 12 * MMPerInch
	MM2PerInch2 = MMPerInch * MMPerInch
	MLPerInch3  = MM2PerInch2 * MMPerInch / 1000
	MLPerGallon = 231 * MLPerInch3
	MLPerFlOz   = MLPerGallon / 128
	GPerPound   = 453.59237
	GPerOunce   = GPerPound / 16
	MLPerMM3    = 0.001
)

// unit is one unit of a type: its names as people write them, the first of
// them for showing, and value-in-base = written * factor.
type unit struct {
	names  []string
	factor float64
}

var lengthUnits = []unit{
	{[]string{"mm", "millimetre", "millimetres"}, 1},
	{[]string{"cm"}, 10},
	{[]string{"m", "metre", "metres"}, 1000},
	{[]string{"in", `"`, "inch", "inches"}, MMPerInch},
	{[]string{"ft", "'", "foot", "feet"}, MMPerFoot},
}

var areaUnits = []unit{
	{[]string{"mm²", "mm2", "sq mm"}, 1},
	{[]string{"cm²", "cm2", "sq cm"}, 100},
	{[]string{"in²", "in2", "sq in"}, MM2PerInch2},
}

var volumeUnits = []unit{
	{[]string{"ml", "cc", "cm³", "cm3"}, 1},
	{[]string{"l", "litre", "litres"}, 1000},
	{[]string{"mm³", "mm3"}, MLPerMM3},
	{[]string{"fl oz", "floz", "fl. oz."}, MLPerFlOz},
	{[]string{"in³", "in3", "cu in"}, MLPerInch3},
	{[]string{"gal", "gallon", "gallons"}, MLPerGallon},
}

var massUnits = []unit{
	{[]string{"g", "gram", "grams"}, 1},
	{[]string{"kg"}, 1000},
	{[]string{"mg"}, 0.001},
	{[]string{"oz", "ounce", "ounces"}, GPerOunce},
	{[]string{"lb", "lbs", "pound", "pounds"}, GPerPound},
}

var durationUnits = []unit{
	{[]string{"s", "sec", "second", "seconds"}, 1},
	{[]string{"min", "minute", "minutes"}, 60},
	{[]string{"h", "hr", "hour", "hours"}, 3600},
	{[]string{"d", "day", "days"}, 86400},
}

var differenceUnits = []unit{
	{[]string{"k", "°c", "c"}, 1},
	{[]string{"°f", "f"}, 5.0 / 9},
}
