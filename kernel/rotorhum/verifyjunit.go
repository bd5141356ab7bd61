package main

import (
	"encoding/xml"
	"fmt"
	"strings"
)

// The XML that CI systems read test results from (common practice; there is no
// standard): a suite for each notebook, a case for each cell.
type (
	junitSuites struct {
		XMLName  xml.Name     `xml:"testsuites"`
		Name     string       `xml:"name,attr"`
		Tests    int          `xml:"tests,attr"`
		Failures int          `xml:"failures,attr"`
		Errors   int          `xml:"errors,attr"`
		Suites   []junitSuite `xml:"testsuite"`
	}
	junitSuite struct {
		Name     string      `xml:"name,attr"`
		Tests    int         `xml:"tests,attr"`
		Failures int         `xml:"failures,attr"`
		Errors   int         `xml:"errors,attr"`
		Skipped  int         `xml:"skipped,attr"`
		Time     string      `xml:"time,attr"`
		Cases    []junitCase `xml:"testcase"`
	}
	junitCase struct {
		Name    string        `xml:"name,attr"`
		Class   string        `xml:"classname,attr"`
		Time    string        `xml:"time,attr"`
		Failure *junitMessage `xml:"failure,omitempty"`
		Error   *junitMessage `xml:"error,omitempty"`
		Skipped *junitMessage `xml:"skipped,omitempty"`
	}
	junitMessage struct {
		Message string `xml:"message,attr"`
		Text    string `xml:",chardata"`
	}
)

// junitXML returns the results in that form.
func junitXML(all []*verified) ([]byte, error) {
	top := junitSuites{Name: "rotorhum verify"}
	for _, v := range all {
		s := junitSuite{Name: v.name, Time: fmt.Sprintf("%.3f", v.took.Seconds())}
		failed := false
		for _, c := range v.report.Cells {
			k := junitCase{Name: fmt.Sprintf("cell %d (%s)", c.Number, c.ID), Class: v.name, Time: fmt.Sprintf("%.3f", c.Took.Seconds())}
			switch {
			case c.Failure != "":
				failed = true
				k.Error = &junitMessage{Message: shortened(c.Failure, maxWidth), Text: c.Failure + causesOf(v)}
				s.Errors++
			case len(c.Differences) > 0:
				var b strings.Builder
				printCell(&b, v.name, c.Number, c.ID, c.Differences)
				k.Failure = &junitMessage{Message: whereIs(c.Number, c.ID, c.Differences[0]), Text: b.String() + causesOf(v)}
				s.Failures++
			case c.Skipped != "":
				k.Skipped = &junitMessage{Message: c.Skipped}
				s.Skipped++
			}
			s.Cases = append(s.Cases, k)
		}
		if err := v.report.Err; err != nil && !failed {
			s.Cases = append(s.Cases, junitCase{Name: "notebook", Class: v.name, Time: "0.000", Error: &junitMessage{Message: shortened(err.Error(), maxWidth), Text: err.Error()}})
			s.Errors++
		}
		s.Tests = len(s.Cases)
		top.Tests += s.Tests
		top.Failures += s.Failures
		top.Errors += s.Errors
		top.Suites = append(top.Suites, s)
	}
	text, err := xml.MarshalIndent(top, "", " ")
	if err != nil {
		return nil, err
	}
	return append([]byte(xml.Header), append(text, '\n')...), nil
}

func causesOf(v *verified) string {
	text := ""
	for _, d := range v.report.Causes {
		text += "\npossible cause: " + d.Text
	}
	return text
}
