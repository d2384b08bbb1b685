package app

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"slices"
	"strconv"
	"testing"

	"github.com/parquet-go/parquet-go"
)

type drawnRow struct {
	Who   string  `parquet:"who" json:"who"`
	Value float64 `parquet:"value" json:"value"`
}

// A data table is the same in each form, whether its rows come at once or in parts, and
// a text in it is no formula for a spreadsheet.
func TestDataTable(t *testing.T) {
	var rows []drawnRow
	for i := range rowsAtOnce + 3 {
		rows = append(rows, drawnRow{"P" + strconv.Itoa(i), -float64(i) / 4})
	}
	rows[1].Who = `=HYPERLINK("http://example.org","Ada")`
	table := dataTable[drawnRow]{
		columns: [][3]string{{"who", "text", "a code"}, {"value", "number", "- means down"}},
		fields:  func(r drawnRow) []string { return []string{r.Who, numberCell(&r.Value)} },
		each: func(do func([]drawnRow) error) error {
			for part := range slices.Chunk(rows, 1000) {
				if err := do(part); err != nil {
					return err
				}
			}
			return nil
		},
	}
	var asCSV, asJSON, asParquet, words bytes.Buffer
	if err := errors.Join(table.writeCSV(&asCSV), table.writeJSON(&asJSON), table.writeParquet(&asParquet), table.writeDictionary(&words)); err != nil {
		t.Fatal(err)
	}
	lines, err := csv.NewReader(&asCSV).ReadAll()
	if err != nil || len(lines) != len(rows)+1 || !slices.Equal(lines[0], []string{"who", "value"}) {
		t.Fatalf("%d lines of CSV, %v", len(lines), err)
	}
	for i, r := range rows {
		want := r.Who
		if i == 1 {
			want = "'" + want
		}
		if lines[i+1][0] != want || lines[i+1][1] != strconv.FormatFloat(r.Value, 'f', -1, 64) {
			t.Fatalf("line %d is %q for %v", i+1, lines[i+1], r)
		}
	}
	var fromJSON []drawnRow
	if err := json.Unmarshal(asJSON.Bytes(), &fromJSON); err != nil || !slices.Equal(fromJSON, rows) {
		t.Errorf("JSON: %d rows, %v", len(fromJSON), err)
	}
	fromParquet, err := parquet.Read[drawnRow](bytes.NewReader(asParquet.Bytes()), int64(asParquet.Len()))
	if err != nil || !slices.Equal(fromParquet, rows) {
		t.Errorf("Parquet: %d rows, %v", len(fromParquet), err)
	}
	if got := words.String(); got != "column,type,meaning\nwho,text,a code\nvalue,number,'- means down\n" {
		t.Errorf("dictionary %q", got)
	}
	rows = nil
	asJSON.Reset()
	if err := table.writeJSON(&asJSON); err != nil || asJSON.String() != "[\n]\n" {
		t.Errorf("no rows: %q, %v", asJSON.String(), err)
	}
}

func TestNoFormula(t *testing.T) {
	for cell, want := range map[string]string{"": "", "Ada": "Ada", "-3.5": "-3.5", "+2e3": "+2e3", "a=b": "a=b",
		"=1+1": "'=1+1", "+cmd": "'+cmd", "-": "'-", "-1+cmd|' /C calc'!A0": "'-1+cmd|' /C calc'!A0", "@SUM(A1)": "'@SUM(A1)", "\t=1": "'\t=1", "\r=1": "'\r=1"} {
		if got := noFormula(cell); got != want {
			t.Errorf("%q is written as %q, want %q", cell, got, want)
		}
	}
}
