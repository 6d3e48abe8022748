package layering_test

import (
	"fmt"
	"go/ast"
	"go/token"
	"slices"
	"strings"
	"testing"
)

// A package variable is allowed if nothing in its package changes it and it is
// one of these: an interface assertion (_), an embedded file tree, an error
// sentinel, a compiled regular expression, a table whose comment says
// "read-only". Everything else is state that two callers would share.

// checkState is the rule on init functions and package variables.
func checkState(sources []*source) (complaints []string) {
	vars := map[string]map[string]bool{} // by package folder
	for _, s := range sources {
		if s.isTest() {
			continue
		}
		for _, decl := range s.ast.Decls {
			switch d := decl.(type) {
			case *ast.FuncDecl:
				if d.Name.Name == "init" && d.Recv == nil {
					complaints = append(complaints, s.at(d)+": init function; build the value where it is needed")
				}
			case *ast.GenDecl:
				if d.Tok != token.VAR {
					continue
				}
				for _, spec := range d.Specs {
					v := spec.(*ast.ValueSpec)
					for i, name := range v.Names {
						if !constantVar(d, v, i) {
							complaints = append(complaints, fmt.Sprintf(
								"%s: package variable %s; make it a constant or a local, or say \"read-only\" in its comment if it is a table", s.at(name), name.Name))
						}
						if vars[s.dir()] == nil {
							vars[s.dir()] = map[string]bool{}
						}
						vars[s.dir()][name.Name] = true
					}
				}
			}
		}
	}
	return append(complaints, checkChanges(sources, vars)...)
}

func constantVar(d *ast.GenDecl, v *ast.ValueSpec, i int) bool {
	name := v.Names[i].Name
	if name == "_" || isSelector(v.Type, "embed", "FS") {
		return true
	}
	if i < len(v.Values) {
		if call, ok := v.Values[i].(*ast.CallExpr); ok {
			switch {
			case isSelector(call.Fun, "regexp", "MustCompile"):
				return true
			case isSelector(call.Fun, "errors", "New") || isSelector(call.Fun, "fmt", "Errorf"):
				return strings.HasPrefix(strings.ToLower(name), "err")
			}
		}
	}
	comments := d.Doc.Text() + v.Doc.Text() + v.Comment.Text()
	return strings.Contains(strings.ToLower(comments), "read-only")
}

func isSelector(e ast.Expr, of, name string) bool {
	sel, ok := e.(*ast.SelectorExpr)
	if !ok || sel.Sel.Name != name {
		return false
	}
	x, ok := sel.X.(*ast.Ident)
	return ok && x.Name == of && x.Obj == nil
}

// checkChanges finds assignments to package variables and to their elements,
// and addresses taken of them.
func checkChanges(sources []*source, vars map[string]map[string]bool) (complaints []string) {
	for _, s := range sources {
		known := vars[s.dir()]
		if s.isTest() || len(known) == 0 {
			continue
		}
		changed := func(n ast.Node, e ast.Expr) {
			id := baseIdent(e)
			if id == nil || id.Name == "_" || !known[id.Name] {
				return
			}
			if id.Obj != nil { // declared in this file: there, or a local of the same name
				if _, ok := id.Obj.Decl.(*ast.ValueSpec); !ok || id.Obj.Kind != ast.Var || !topLevel(s, id.Obj) {
					return
				}
			}
			complaints = append(complaints, fmt.Sprintf("%s: package variable %s is changed", s.at(n), id.Name))
		}
		ast.Inspect(s.ast, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.AssignStmt:
				if n.Tok != token.DEFINE {
					for _, lhs := range n.Lhs {
						changed(n, lhs)
					}
				}
			case *ast.IncDecStmt:
				changed(n, n.X)
			case *ast.UnaryExpr:
				if n.Op == token.AND {
					changed(n, n.X)
				}
			}
			return true
		})
	}
	return complaints
}

func topLevel(s *source, obj *ast.Object) bool {
	return s.ast.Scope != nil && s.ast.Scope.Lookup(obj.Name) == obj
}

// baseIdent is x in x, x.f, x[i], *x and (x).
func baseIdent(e ast.Expr) *ast.Ident {
	for {
		switch v := e.(type) {
		case *ast.Ident:
			return v
		case *ast.SelectorExpr:
			e = v.X
		case *ast.IndexExpr:
			e = v.X
		case *ast.StarExpr:
			e = v.X
		case *ast.ParenExpr:
			e = v.X
		default:
			return nil
		}
	}
}

// seeded are the names of math/rand/v2 that do not touch its global source.
var seeded = []string{"New", "NewPCG", "NewChaCha8", "NewZipf", "Rand", "Source", "PCG", "ChaCha8", "Zipf"}

// checkCalls is the rule on printing, os.Exit, panics in other words, the
// clock and the global random source.
func checkCalls(sources []*source) (complaints []string) {
	for _, s := range sources {
		if s.isTest() {
			continue
		}
		command := within(s.dir(), "cmd")
		names := importNames(s)
		complain := func(n ast.Node, format string, args ...any) {
			complaints = append(complaints, s.at(n)+": "+fmt.Sprintf(format, args...))
		}
		ast.Inspect(s.ast, func(n ast.Node) bool {
			if call, ok := n.(*ast.CallExpr); ok {
				if id, ok := call.Fun.(*ast.Ident); ok && id.Obj == nil && (id.Name == "print" || id.Name == "println") {
					complain(n, "%s is for debugging", id.Name)
				}
			}
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			x, ok := sel.X.(*ast.Ident)
			if !ok || x.Obj != nil {
				return true
			}
			switch imp, name := names[x.Name], sel.Sel.Name; {
			case imp == "os" && name == "Exit" && s.path != "cmd/layshaft/main.go":
				complain(n, "os.Exit belongs only in main")
			case imp == "fmt" && slices.Contains([]string{"Print", "Printf", "Println"}, name):
				complain(n, "fmt.%s writes to the process's own output; write to the io.Writer that was given", name)
			case imp == "os" && (name == "Stdout" || name == "Stderr") && !command:
				complain(n, "libraries never print")
			case imp == "math/rand/v2" && !slices.Contains(seeded, name):
				complain(n, "rand.%s uses the global random source; use a seeded one", name)
			case imp == "math/rand":
				complain(n, "math/rand has a global source; use a seeded source of math/rand/v2")
			}
			return true
		})
	}
	return complaints
}

// importNames maps the names under which a file knows its imports.
func importNames(s *source) map[string]string {
	names := map[string]string{}
	for _, imp := range s.ast.Imports {
		p := strings.Trim(imp.Path.Value, `"`)
		name := p[strings.LastIndexByte(p, '/')+1:]
		if p == "math/rand/v2" {
			name = "rand"
		}
		if imp.Name != nil {
			name = imp.Name.Name
		}
		names[name] = p
	}
	return names
}

func TestState(t *testing.T) { none(t, checkState(repository(t))) }
func TestCalls(t *testing.T) { none(t, checkCalls(repository(t))) }
