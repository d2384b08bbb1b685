package app

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// writeCSV writes a table: its head, then what rows puts, a row a call.
func writeCSV(w io.Writer, head []string, rows func(put func(cells ...string)) error) error {
	c := csv.NewWriter(w)
	put := func(cells ...string) {
		safe := make([]string, len(cells))
		for i, cell := range cells {
			safe[i] = noFormula(cell)
		}
		c.Write(safe) // an error stays until the end
	}
	put(head...)
	if err := rows(put); err != nil {
		return err
	}
	c.Flush()
	return c.Error()
}

// noFormula puts ' before a text that a spreadsheet would take for a formula and run:
// a name may have been chosen for that. Numbers stay as they are.
func noFormula(cell string) string {
	if cell == "" || !strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return cell
	}
	if _, err := strconv.ParseFloat(cell, 64); err == nil {
		return cell
	}
	return "'" + cell
}

// numberCell is a number as it stands in a table; empty for one that is not known.
func numberCell(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}

// dataTable is a table for evaluation elsewhere: the same rows as CSV, JSON and
// Parquet, and its columns explained.
type dataTable[T any] struct {
	columns [][3]string                    // name, type, meaning
	fields  func(T) []string               // a row's cells, in the order of columns
	each    func(do func([]T) error) error // the rows, some at a time
}

// rowsAtOnce is how many rows are held before they are written out as a group.
const rowsAtOnce = 1 << 11

func (d dataTable[T]) writeCSV(w io.Writer) error {
	head := make([]string, len(d.columns))
	for i, k := range d.columns {
		head[i] = k[0]
	}
	return writeCSV(w, head, func(put func(...string)) error {
		return d.each(func(rows []T) error {
			for _, r := range rows {
				put(d.fields(r)...)
			}
			return nil
		})
	})
}

// writeJSON writes the rows as one list, a row a line.
func (d dataTable[T]) writeJSON(w io.Writer) error {
	before := "["
	err := d.each(func(rows []T) error {
		for _, r := range rows {
			b, err := json.Marshal(r)
			if err != nil {
				return err
			}
			if _, err := fmt.Fprintf(w, "%s\n%s", before, b); err != nil {
				return err
			}
			before = ","
		}
		return nil
	})
	if err != nil {
		return err
	}
	if before == "[" {
		fmt.Fprint(w, before)
	}
	_, err = fmt.Fprint(w, "\n]\n")
	return err
}

// writeParquet writes the rows in groups of a bounded size.
func (d dataTable[T]) writeParquet(w io.Writer) error {
	p := parquet.NewGenericWriter[T](w, parquet.Compression(&parquet.Snappy))
	n := 0
	err := d.each(func(rows []T) error {
		if _, err := p.Write(rows); err != nil {
			return err
		}
		if n += len(rows); n >= rowsAtOnce {
			n = 0
			return p.Flush()
		}
		return nil
	})
	if err != nil {
		return err
	}
	return p.Close()
}

// writeDictionary explains the columns.
func (d dataTable[T]) writeDictionary(w io.Writer) error {
	return writeCSV(w, []string{"column", "type", "meaning"}, func(put func(...string)) error {
		for _, k := range d.columns {
			put(k[:]...)
		}
		return nil
	})
}
