package shop

import (
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
)

// document is the file as it is written: a nil pointer is a key that is not
// there.
type document struct {
	Name          string            `yaml:"name"`
	Address       string            `yaml:"address"`
	Logo          string            `yaml:"logo"`
	Languages     []string          `yaml:"languages"`
	Fitter        string            `yaml:"fitter"`
	NextLookWeeks *float64          `yaml:"next_look_weeks"`
	Print         *printSection     `yaml:"print"`
	PrintPaper    *printSection     `yaml:"print_paper"`
	Pads          map[string]padRow `yaml:"pads"`
	Allowance     []allowanceRow    `yaml:"allowance"`
	Rule          ruleSection       `yaml:"rule"`
	Damping       dampingSection    `yaml:"damping"`
	Stock         stockSection      `yaml:"stock"`
	Checks        checksSection     `yaml:"checks"`
}

type printSection struct {
	ScaleX        *float64 `yaml:"scale_x"`
	ScaleXU       *float64 `yaml:"scale_x_u"`
	ScaleY        *float64 `yaml:"scale_y"`
	ScaleYU       *float64 `yaml:"scale_y_u"`
	CorrelationXY *float64 `yaml:"correlation_xy"`
	Date          string   `yaml:"date"`
	BarMM         *float64 `yaml:"bar_mm"`
	BarYMM        *float64 `yaml:"bar_y_mm"`
	BarUMM        *float64 `yaml:"bar_u_mm"`
}

type padRow struct {
	Medium             string   `yaml:"medium"`
	DepthMM            *float64 `yaml:"depth_mm"`
	DepthUCommonMM     *float64 `yaml:"depth_u_common_mm"`
	DepthUDifferenceMM *float64 `yaml:"depth_u_difference_mm"`
	CardThicknessMM    *float64 `yaml:"card_thickness_mm"`
	CardThicknessUMM   *float64 `yaml:"card_thickness_u_mm"`
	Basis              string   `yaml:"basis"`
}

type allowanceRow struct {
	AngleDeg *float64 `yaml:"angle_deg"`
	MM       *float64 `yaml:"mm"`
	UMM      *float64 `yaml:"u_mm"`
	Basis    string   `yaml:"basis"`
}

type checksSection struct {
	Correct bool `yaml:"correct"`
}

type ruleSection struct {
	Level *float64 `yaml:"level"`
}

type dampingSection struct {
	SoftUpToKg *float64 `yaml:"soft_up_to_kg"`
	FirmFromKg *float64 `yaml:"firm_from_kg"`
	NearKg     *float64 `yaml:"near_kg"`
	Basis      string   `yaml:"basis"`
}

// stockSection is a path, or a list of widths in mm.
type stockSection struct {
	file   string
	widths []float64
	given  bool
}

// stockForm begins the YAML reader's error of a stock that is neither; what was
// found follows.
const stockForm = "stock is a path or a list, found "

// UnmarshalYAML reads either form; the YAML reader's errors carry the place.
func (s *stockSection) UnmarshalYAML(node ast.Node) error {
	switch node.(type) {
	case *ast.NullNode:
		return nil
	case *ast.SequenceNode:
		s.given = true
		return yaml.NodeToValue(node, &s.widths, yaml.Strict())
	case *ast.StringNode, *ast.LiteralNode:
		s.given = true
		if err := yaml.NodeToValue(node, &s.file); err != nil {
			return err
		}
		s.file = strings.TrimSpace(s.file)
		return nil
	}
	return &yaml.SyntaxError{
		Message: stockForm + node.Type().String(),
		Token:   node.GetToken(),
	}
}
