package fit

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func readText(t require.TestingT, text string) Stock {
	s, err := ReadStock(strings.NewReader(text), "stock.csv")
	require.NoError(t, err)
	return s
}

func TestDemoStockReads(t *testing.T) {
	s, err := LoadStock("../testdata/stock.csv")
	require.NoError(t, err)
	assert.Len(t, s.Models, 21)
	assert.Equal(t, []float64{130, 140, 150, 160, 170, 180}, s.Widths())
	assert.Equal(t, Model{
		Name: "Wren 1", Uses: []Use{Gravel, Road}, WidthMM: 130, SupportMM: 112, LengthMM: 245, NoseMM: 42,
		Relief: CutoutRelief, Dampers: []Damper{}, MaxRiderKg: 110, Price: 89, Qty: 3,
		Extra: []Column{{"colour", "black"}}, Line: 2,
	}, s.Models[0])
}

func TestStockNeedsOnlyTheWidth(t *testing.T) {
	s := readText(t, "width_mm\n150\n140\n\n")
	assert.Equal(t, []float64{140, 150}, s.Widths())
	assert.Equal(t, Model{WidthMM: 150, Qty: QtyNotStated, Line: 2}, s.Models[0])
	assert.True(t, s.Models[0].OnShelf())
}

// What European spreadsheets write: byte-order mark, semicolons, decimal
// commas, CRLF, words for numbers of things; also tabs and a "sep=" line.
func TestSpreadsheetsWays(t *testing.T) {
	want := Model{
		Name: "Kauz, breit", Uses: []Use{City, Touring}, WidthMM: 152.5, Relief: ChannelRelief,
		Dampers: []Damper{FirmDamper, SoftDamper}, MaxRiderKg: 120, Price: 1089.9, Qty: 2, Line: 2,
	}
	tests := map[string]string{
		"semicolons": "\ufeffModel;Use;Width (cm);Relief;Dampers;max_rider_kg;price_eur;qty\r\nKauz, " +
			"breit;Stadt/Trekking;15,25;Rinne;weich, hart;120;1.089,90 €;2\r\n",
		"tabs": "model\tuse\twidth_mm\trelief\tdampers\tmax_rider_kg\tprice_eur\tqty\nKauz, breit\tcity " +
			"touring\t152.5\tgroove\tsoft|firm\t120\t1089,9\t2\n",
		"commas": "model,use,width_mm,relief,dampers,max_rider_kg,price_eur,qty\n\"Kauz, " +
			"breit\",city|touring,\"152,5\",channel,soft+firm,120,\"1,089.90\",2\n",
		"sep= line": "sep=;\nmodel;use;width_mm;relief;dampers;max_rider_kg;price_eur;qty\nKauz, " +
			"breit;city|touring;152,5;channel;soft+firm;120;1089,90;2\n",
		"other order": "qty;price_eur;max_rider_kg;dampers;relief;width_mm;use;model\n" +
			"2;1089,90;120;soft+firm;channel;152,5;city|touring;Kauz, breit\n",
	}
	for name, text := range tests {
		t.Run(name, func(t *testing.T) {
			s := readText(t, text)
			require.Len(t, s.Models, 1)
			got := s.Models[0]
			if name == "sep= line" {
				assert.Equal(t, 3, got.Line, "lines are counted in the file as it is")
				got.Line = 2
			}
			assert.Equal(t, want, got)
			assert.Equal(t, "EUR", s.Currency)
		})
	}
}

func TestUnitsInTheHeader(t *testing.T) {
	s := readText(t, "width_in,length_cm,nose_mm,max_rider_lb\n6,27,40,220\n")
	assert.Equal(t, 152.4, s.Models[0].WidthMM, "6 x 25.4, the inch by definition")
	assert.Equal(t, 270.0, s.Models[0].LengthMM)
	assert.InDelta(t, 99.790, s.Models[0].MaxRiderKg, 5e-4, "220 x 0.45359237, the pound by definition")
}

func TestUnknownColumnsAreKept(t *testing.T) {
	s := readText(t, "width_mm,shelf,length_note\n150,B4,rails of steel\n")
	assert.Equal(t, []Column{{"shelf", "B4"}, {"length_note", "rails of steel"}}, s.Models[0].Extra)
}

// Every bad row, not the first; with its place, its value, and what was
// expected. The columns are counted by hand.
func TestEveryBadRowIsReported(t *testing.T) {
	text := strings.Join([]string{
		"model,use,width_mm,support_mm,relief,dampers,max_rider_kg,price,qty", // 1
		"Alder,road,150,130,cutout,none,110,89.00,3",                          // 2: good
		"Birch,hover,wide,130,cutout,none,110,89.00,3",                        // 3: use, width
		"Cedar,road,15.0,,none,none,110,89.00,3",                              // 4: width in cm
		"Dogwood,road,,130,holes,hardish,none,cheap,-1",                       // 5: all but the name and use
		"Elm,road,150,160,none,none,110,89.00,3",                              // 6: support wider than the saddle
		"Fir,road,150,130,none,none,110,1.234,3",                              // 7: one thousand or one?
		"Gorse,road,145,5,130,none,none,110,89.00,3",                          // 8: decimal comma unquoted
		"Hazel,road,NaN,,,,,,",                                                // 9
		"Ivy,road,140,,,,,,",                                                  // 10: good
	}, "\n")
	s, err := ReadStock(strings.NewReader(text), "stock.csv")
	var faults *StockFaults
	require.ErrorAs(t, err, &faults)
	type cell struct {
		file                   string
		line, column           int
		field, value, expected string
	}
	want := []cell{
		{"stock.csv", 3, 7, "use", "hover", "uses from: road, gravel, mountain, city, touring, triathlon, e-bike"},
		{"stock.csv", 3, 13, "width_mm", "wide", "a number from 60 to 400 (mm)"},
		{"stock.csv", 4, 12, "width_mm", "15.0", "a number from 60 to 400 (mm)"},
		{"stock.csv", 5, 0, "width_mm", "", "a value; the cell is empty or missing"},
		{"stock.csv", 5, 19, "relief", "holes", "none, channel, cutout, yes or no"},
		{"stock.csv", 5, 25, "dampers", "hardish", "dampers from: soft, medium, firm (or all, none)"},
		{"stock.csv", 5, 33, "max_rider_kg", "none", "a number from 20 to 500 (kg)"},
		{"stock.csv", 5, 38, "price", "cheap",
			"a price, such as 89.90 or 89,90; the currency belongs in the header: price_eur"},
		{"stock.csv", 5, 44, "qty", "-1", "a whole number, 0 or more"},
		{"stock.csv", 6, 0, "support", "160 mm", "at most the width, 150 mm"},
		{"stock.csv", 7, 32, "price", "1.234", "a price whose decimals are clear: 1234.00 or 1234, not 1.234"},
	}
	var kept []cell
	lines := map[int]bool{}
	for _, f := range faults.Faults {
		lines[f.Line] = true
		if f.Line <= 7 {
			kept = append(kept, cell{f.File, f.Line, f.Column, f.Field, f.Value, f.Expected.Error()})
		}
	}
	assert.ElementsMatch(t, want, kept)
	assert.True(t, lines[8] && lines[9])
	assert.Contains(t, err.Error(), "a decimal comma needs quotes, or ; between the cells")
	assert.Contains(t, err.Error(), `stock.csv:3:13: width_mm: "wide": expected a number from 60 to 400 (mm)`)
	assert.Len(t, strings.Split(err.Error(), "\n"), len(faults.Faults), "a line each")
	require.Len(t, s.Models, 2, "the good rows come with it")
	assert.Equal(t, "Ivy", s.Models[1].Name)
}

func TestReadingGoesOnBehindAStrayQuote(t *testing.T) {
	_, err := ReadStock(strings.NewReader("model,width_mm\nAl\"der,150\nBirch,wide\n"), "stock.csv")
	var faults *StockFaults
	require.ErrorAs(t, err, &faults)
	require.Len(t, faults.Faults, 2)
	assert.Equal(t, 2, faults.Faults[0].Line)
	assert.Contains(t, faults.Faults[0].Expected.Error(), "quotes")
	assert.Equal(t, 3, faults.Faults[1].Line)
}

func TestBadHeadersAndFiles(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"empty", "", "the file is empty"},
		{"header alone", "model,width_mm\n", "at least one row below the header"},
		{"no width", "model,use\nAlder,road\n", "a header with the column width_mm"},
		{"no header", "150\n160\n", "a header with the column width_mm"},
		{"no unit", "width\n150\n", "the unit in the header: width_mm or width_cm or width_in"},
		{"unknown unit", "width_mm,nose_px\n150,3\n", "the unit in the header: nose_mm"},
		{"mass without unit", "width_mm,max_rider\n150,110\n", "max_rider_kg or max_rider_lb"},
		{"width twice", "width_mm,width_cm\n150,15\n", "one column for width, this is the second"},
		{"old code page", "model,width_mm\nK\xe4uzchen,150\n", "text in UTF-8"},
		{"UTF-16", "\xff\xfew\x00i\x00d\x00t\x00h\x00", "text in UTF-8"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ReadStock(strings.NewReader(tt.text), "stock.csv")
			assert.ErrorContains(t, err, tt.want)
			assert.ErrorAs(t, err, new(*StockFaults))
		})
	}
	_, err := LoadStock("no such file.csv")
	assert.Error(t, err)
	assert.False(t, errors.As(err, new(*StockFaults)))
}

func TestParseDecimal(t *testing.T) {
	tests := []struct {
		s    string
		want float64
		ok   bool
	}{
		{"150", 150, true}, {"150.5", 150.5, true}, {"150,5", 150.5, true}, {" 150 ", 150, true},
		{"1.234,50", 1234.5, true}, {"1,234.50", 1234.5, true}, {"1.234.567,5", 1234567.5, true}, {"-3", -3, true},
		{"", 0, false}, {"nan", 0, false}, {"inf", 0, false}, {"0x10", 0, false}, {"1e3", 0, false},
		{"1_000", 0, false},
		{"1.23,50", 0, false}, {"1,234,567", 0, false}, {"1.2.3,4,5", 0, false}, {".", 0, false}, {"--1", 0, false},
	}
	for _, tt := range tests {
		got, ok := parseDecimal(tt.s)
		assert.Equal(t, tt.ok, ok, tt.s)
		if tt.ok {
			assert.Equal(t, tt.want, got, tt.s)
		}
	}
}

func TestDuplicateRowsAreMerged(t *testing.T) {
	s := readText(t,
		"model,width_mm,dampers,qty\nAlder,150,none,1\nAlder,150,none,2\nAlder,150,,2\nBirch,150,none,1\n")
	require.Len(t, s.Models, 3, "no dampers and dampers not stated are two things")
	assert.Equal(t, 3, s.Models[0].Qty)
}

func FuzzReadStock(f *testing.F) {
	for _, seed := range []string{
		"width_mm\n150\n", "\ufeffmodel;width_cm\nKauz;15,5\n", "sep=;\nwidth_mm;qty\n150;2\n",
		"model,use,width_mm,support_mm,length_mm,nose_mm,relief,dampers,max_rider_kg,price,qty\n" +
			"Wren,road/gravel,130,112,245,42,cutout,none,110,89.00,3\n",
		"width_mm\n\"150\n", "width_mm,width_mm\n1,2\n", "width_mm\n1e309\nNaN\n-0\n", "\"\"\n", ";;;\n;;;\n",
		"width_mm,\n150,,,,\n", "width_mm\r150\r",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := ReadStock(strings.NewReader(string(data)), "fuzz.csv")
		if err != nil {
			var faults *StockFaults
			if !errors.As(err, &faults) || len(faults.Faults) == 0 {
				t.Fatalf("an error without faults: %v", err)
			}
			for _, fault := range faults.Faults {
				if fault.Line < 1 || fault.Expected == nil || strings.Contains(fault.Error(), "\n") {
					t.Fatalf("no place, nothing expected or more than a line: %#v", fault)
				}
			}
		} else if len(s.Models) == 0 {
			t.Fatal("no models and no error")
		}
		for _, m := range s.Models {
			if !(m.WidthMM >= minWidthMM && m.WidthMM <= maxWidthMM) || m.SupportMM > m.WidthMM ||
				m.Qty < QtyNotStated {
				t.Fatalf("impossible model let in: %+v", m)
			}
		}
		if len(s.Widths()) > 0 {
			if c := choose(t, 125, 2, 20, s); c.Verdict == "" {
				t.Fatal("no verdict")
			}
		}
	})
}
