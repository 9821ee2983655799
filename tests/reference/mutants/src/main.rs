//! Weaves many mutants into one tree of sources, so that one build holds them all and the environment says
//! which one is active: `mutants LIST TREE DROPPED`. LIST is what `cargo mutants --list --json` prints, TREE a
//! copy of the sources, which is overwritten, DROPPED a file with the numbers of the mutants to leave out.
//! Prints, as JSON, what was woven and where it stands.
//!
//! Mutant 17, `+` to `-` in `a + b * c`, becomes
//! `(match crate::mutant::at(17) { 17 => a - b * c, 18 => .., _ => a + b * c })`. Only the last arm is woven
//! again inside, so nothing explodes; and every arm is the text that cargo-mutants would have compiled. All
//! operators of one expression share a place, for what an operator binds depends on its neighbours.

use proc_macro2::{LineColumn, Span};
use serde_json::{Value, json};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::ops::Range;
use std::{env, fs};
use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::*;

/// In the library as `crate::mutant`.
const RUNTIME: &str = include_str!("runtime.rs");

struct Mutant {
    id: usize,
    replacement: String,
}

/// Text put in before `at`; `arms` are parts of it that belong to one mutant.
struct Insertion {
    at: usize,
    /// What ends here comes before what begins here; the outer of two begins first and ends last.
    order: (bool, isize),
    text: String,
    arms: Vec<(usize, Range<usize>)>,
    place: usize,
}

struct Weaver<'a> {
    source: &'a str,
    lines: Vec<usize>,
    /// By kind and by line and column of their beginning.
    mutants: HashMap<(&'static str, usize, usize), Vec<Mutant>>,
    dropped: &'a HashSet<usize>,
    insertions: Vec<Insertion>,
    /// The mutants of each place.
    places: Vec<Vec<usize>>,
    /// Why a mutant was left out.
    out: BTreeMap<usize, &'static str>,
    in_constant: bool,
}

impl Weaver<'_> {
    fn offset(&self, p: LineColumn) -> usize {
        let line = self.lines[p.line - 1];
        let rest = &self.source[line..];
        line + rest
            .char_indices()
            .nth(p.column)
            .map_or(rest.len(), |(i, _)| i)
    }

    fn range(&self, span: Span) -> Range<usize> {
        self.offset(span.start())..self.offset(span.end())
    }

    fn take(&mut self, kind: &'static str, span: Span) -> Vec<Mutant> {
        let p = span.start();
        let all = self
            .mutants
            .remove(&(kind, p.line, p.column + 1))
            .unwrap_or_default();
        if self.in_constant {
            self.leave_out(&all, "in a constant");
            return Vec::new();
        }
        all
    }

    fn leave_out(&mut self, mutants: &[Mutant], why: &'static str) {
        self.out.extend(mutants.iter().map(|m| (m.id, why)));
    }

    /// A switch around `range`: the alternatives, and what stands there as the last arm.
    fn switch(&mut self, range: Range<usize>, alternatives: Vec<(usize, String)>) {
        let alternatives: Vec<_> = alternatives
            .into_iter()
            .filter(|(id, text)| {
                let parses = parse_str::<Expr>(text).is_ok();
                if !parses {
                    self.out.insert(*id, "does not parse");
                }
                parses && !self.dropped.contains(id)
            })
            .collect();
        self.insert(
            range.start,
            Some(range.end),
            alternatives,
            "(",
            "_ => ",
            "})",
        );
    }

    fn insert(
        &mut self,
        at: usize,
        end: Option<usize>,
        arms: Vec<(usize, String)>,
        open: &str,
        last: &str,
        close: &str,
    ) {
        let Some(&(first, _)) = arms.first() else {
            return;
        };
        let place = self.places.len();
        self.places.push(arms.iter().map(|a| a.0).collect());
        let mut text = format!("{open}match crate::mutant::at({first}) {{ ");
        let mut ranges = Vec::new();
        for (id, arm) in arms {
            let start = text.len();
            text += &format!("{id} => {arm}");
            ranges.push((id, start..text.len()));
            // A comment at the end must not hide the comma.
            text += "\n, ";
        }
        text += last;
        self.push(at, true, text, ranges, place);
        if let Some(end) = end {
            self.push(end, false, close.to_owned(), Vec::new(), place);
        }
    }

    fn push(
        &mut self,
        at: usize,
        begins: bool,
        text: String,
        arms: Vec<(usize, Range<usize>)>,
        place: usize,
    ) {
        let rank = place as isize;
        let order = (begins, if begins { rank } else { -rank });
        self.insertions.push(Insertion {
            at,
            order,
            text,
            arms,
            place,
        });
    }

    fn replaced(&self, whole: &Range<usize>, part: Range<usize>, by: &str) -> String {
        format!(
            "{}{by}{}",
            &self.source[whole.start..part.start],
            &self.source[part.end..whole.end]
        )
    }

    /// Mutants of the operators that hang together without parentheses.
    fn operators(&mut self, e: &ExprBinary, whole: &Range<usize>, into: &mut Vec<(usize, String)>) {
        let op = self.range(e.op.span());
        for m in self.take("BinaryOperator", e.op.span()) {
            let text = self.replaced(whole, op.clone(), &m.replacement);
            into.push((m.id, text));
        }
        for side in [&e.left, &e.right] {
            if let Expr::Binary(inner) = &**side {
                self.operators(inner, whole, into);
            }
        }
    }

    /// Whether a `let` of a chain stands among the operands.
    fn chained(e: &Expr) -> bool {
        match e {
            Expr::Let(_) => true,
            Expr::Binary(b) => Self::chained(&b.left) || Self::chained(&b.right),
            _ => false,
        }
    }

    fn binary(&mut self, e: &ExprBinary, outermost: bool) {
        if Self::chained(&e.left) || Self::chained(&e.right) {
            let all = self.take("BinaryOperator", e.op.span());
            self.leave_out(&all, "beside a let");
            self.operand(&e.left, true);
            self.operand(&e.right, true);
            return;
        }
        if outermost {
            let whole = self.range(e.span());
            let mut alternatives = Vec::new();
            self.operators(e, &whole, &mut alternatives);
            self.switch(whole, alternatives);
        }
        self.operand(&e.left, false);
        self.operand(&e.right, false);
    }

    fn operand(&mut self, e: &Expr, outermost: bool) {
        match e {
            Expr::Binary(b) => self.binary(b, outermost),
            _ => self.visit_expr(e),
        }
    }

    fn body(&mut self, signature: &Signature, block: &Block) {
        self.visit_signature(signature);
        let was = self.in_constant;
        self.in_constant = signature.constness.is_some();
        if let Some(first) = block.stmts.first() {
            let mut values = self.take("FnValue", first.span());
            // Every `return` of it has to give the same type.
            if matches!(&signature.output, ReturnType::Type(_, t) if matches!(**t, Type::ImplTrait(_)))
            {
                self.leave_out(&values, "an impl as its value");
                values.clear();
            }
            let arms = values
                .into_iter()
                .map(|m| (m.id, format!("return {}", m.replacement)))
                .filter(|(id, _)| !self.dropped.contains(id))
                .collect();
            let at = self.offset(first.span().start());
            self.insert(at, None, arms, "", "_ => {} } ", "");
        }
        self.visit_block(block);
        self.in_constant = was;
    }

    fn constant(&mut self, visit: impl FnOnce(&mut Self)) {
        let was = std::mem::replace(&mut self.in_constant, true);
        visit(self);
        self.in_constant = was;
    }

    /// The woven text, and where each mutant and each place stands in it.
    fn woven(mut self) -> (String, Value) {
        self.insertions.sort_by_key(|i| (i.at, i.order));
        let (mut text, mut from) = (String::new(), 0);
        let mut arms = Vec::new();
        let mut bounds = vec![(usize::MAX, 0); self.places.len()];
        for insertion in &self.insertions {
            text += &self.source[from..insertion.at];
            from = insertion.at;
            let start = text.len();
            arms.extend(
                insertion
                    .arms
                    .iter()
                    .map(|(id, r)| json!([id, start + r.start, start + r.end])),
            );
            text += &insertion.text;
            let bound = &mut bounds[insertion.place];
            *bound = (bound.0.min(start), text.len());
        }
        text += &self.source[from..];
        let places: Vec<_> = self
            .places
            .iter()
            .zip(bounds)
            .map(|(ids, b)| json!([ids, b.0, b.1]))
            .collect();
        let unseen = self
            .mutants
            .into_values()
            .flatten()
            .map(|m| (m.id, "not found"));
        let out: BTreeMap<_, _> = self.out.into_iter().chain(unseen).collect();
        (text, json!({ "arms": arms, "places": places, "out": out }))
    }
}

impl<'ast> Visit<'ast> for Weaver<'_> {
    fn visit_item_fn(&mut self, f: &'ast ItemFn) {
        self.body(&f.sig, &f.block);
    }
    fn visit_impl_item_fn(&mut self, f: &'ast ImplItemFn) {
        self.body(&f.sig, &f.block);
    }
    fn visit_trait_item_fn(&mut self, f: &'ast TraitItemFn) {
        if let Some(block) = &f.default {
            self.body(&f.sig, block);
        }
    }
    fn visit_item_const(&mut self, i: &'ast ItemConst) {
        self.constant(|s| visit::visit_item_const(s, i));
    }
    fn visit_item_static(&mut self, i: &'ast ItemStatic) {
        self.constant(|s| visit::visit_item_static(s, i));
    }
    fn visit_impl_item_const(&mut self, i: &'ast ImplItemConst) {
        self.constant(|s| visit::visit_impl_item_const(s, i));
    }
    fn visit_type(&mut self, t: &'ast Type) {
        self.constant(|s| visit::visit_type(s, t));
    }
    fn visit_pat(&mut self, p: &'ast Pat) {
        self.constant(|s| visit::visit_pat(s, p));
    }
    fn visit_expr_binary(&mut self, e: &'ast ExprBinary) {
        self.binary(e, true);
    }
    fn visit_expr_unary(&mut self, e: &'ast ExprUnary) {
        let alternatives = self.take("UnaryOperator", e.op.span());
        let inside = self.source[self.range(e.expr.span())].to_owned();
        let alternatives = alternatives
            .into_iter()
            .map(|m| (m.id, inside.clone()))
            .collect();
        self.switch(self.range(e.span()), alternatives);
        visit::visit_expr_unary(self, e);
    }
    fn visit_arm(&mut self, arm: &'ast Arm) {
        for m in self.take("MatchArm", arm.span()) {
            if self.dropped.contains(&m.id) {
                continue;
            }
            let place = self.places.len();
            self.places.push(vec![m.id]);
            let off = format!("crate::mutant::at({0}) != {0}", m.id);
            if let Some((_, guard)) = &arm.guard {
                let guard = self.range(guard.span());
                self.push(guard.start, true, format!("{off} && ("), Vec::new(), place);
                self.push(guard.end, false, ")".to_owned(), Vec::new(), place);
            } else {
                let end = self.range(arm.pat.span()).end;
                self.push(end, true, format!(" if {off}"), Vec::new(), place);
            }
        }
        if let Some((_, guard)) = &arm.guard {
            let alternatives = self.take("MatchArmGuard", guard.span());
            if Self::chained(guard) {
                self.leave_out(&alternatives, "beside a let");
            } else {
                let alternatives = alternatives
                    .into_iter()
                    .map(|m| (m.id, m.replacement))
                    .collect();
                self.switch(self.range(guard.span()), alternatives);
            }
        }
        visit::visit_arm(self, arm);
    }
    fn visit_expr_struct(&mut self, e: &'ast ExprStruct) {
        for field in &e.fields {
            let alternatives = self.take("StructField", field.span());
            let (Some(rest), Member::Named(name)) = (&e.rest, &field.member) else {
                self.leave_out(&alternatives, "no base");
                continue;
            };
            // What the field is worth when the base gives it. A bare `Default::default()` has its type from here.
            let mut base = self.source[self.range(rest.span())].to_owned();
            if base == "Default::default()" {
                base = format!(
                    "<{} as Default>::default()",
                    &self.source[self.range(e.path.span())]
                );
            }
            let alternatives = alternatives
                .into_iter()
                .map(|m| (m.id, format!("({base}).{name}")))
                .collect::<Vec<_>>();
            if field.colon_token.is_some() {
                self.switch(self.range(field.expr.span()), alternatives);
            } else {
                self.insert(
                    self.range(field.span()).start,
                    Some(self.range(field.span()).end),
                    alternatives
                        .into_iter()
                        .filter(|(id, _)| !self.dropped.contains(id))
                        .collect(),
                    &format!("{name}: "),
                    "_ => ",
                    "}",
                );
            }
        }
        visit::visit_expr_struct(self, e);
    }
    fn visit_expr_repeat(&mut self, e: &'ast ExprRepeat) {
        self.visit_expr(&e.expr);
        self.constant(|s| s.visit_expr(&e.len));
    }
}

fn main() {
    let given: Vec<String> = env::args().skip(1).collect();
    let [list, tree, dropped] = given.as_slice() else {
        eprintln!("mutants LIST TREE DROPPED");
        std::process::exit(2);
    };
    let read = |path: &str| fs::read_to_string(path).unwrap_or_else(|e| panic!("{path}: {e}"));
    let dropped: HashSet<usize> = read(dropped)
        .split_whitespace()
        .map(|n| n.parse().unwrap())
        .collect();
    let list: Vec<Value> = serde_json::from_str(&read(list)).unwrap();
    let mut files: BTreeMap<&str, HashMap<_, Vec<Mutant>>> = BTreeMap::new();
    let kinds = [
        "FnValue",
        "BinaryOperator",
        "UnaryOperator",
        "MatchArm",
        "MatchArmGuard",
        "StructField",
    ];
    for (i, m) in list.iter().enumerate() {
        let kind = kinds.into_iter().find(|k| *k == m["genre"]).unwrap();
        let number = |key| m["span"]["start"][key].as_u64().unwrap() as usize;
        let of_file = files.entry(m["file"].as_str().unwrap()).or_default();
        let mutant = Mutant {
            id: i + 1,
            replacement: m["replacement"].as_str().unwrap().to_owned(),
        };
        of_file
            .entry((kind, number("line"), number("column")))
            .or_default()
            .push(mutant);
    }
    let mut report = serde_json::Map::new();
    for (file, mutants) in files {
        let path = format!("{tree}/{file}");
        let source = read(&path);
        let lines = std::iter::once(0)
            .chain(source.match_indices('\n').map(|(i, _)| i + 1))
            .collect();
        let mut weaver = Weaver {
            source: &source,
            lines,
            mutants,
            dropped: &dropped,
            insertions: Vec::new(),
            places: Vec::new(),
            out: BTreeMap::new(),
            in_constant: false,
        };
        weaver.visit_file(&parse_file(&source).unwrap());
        let (text, of_file) = weaver.woven();
        fs::write(path, text).unwrap();
        report.insert(file.to_owned(), of_file);
    }
    fs::write(format!("{tree}/src/mutant.rs"), RUNTIME).unwrap();
    let lib = format!("{tree}/src/lib.rs");
    let start = "pub mod ambient;";
    let text = read(&lib);
    let allowed = "#![allow(warnings, arithmetic_overflow, unconditional_panic, clippy::all)]\n";
    assert!(text.contains(start), "{lib} has no line {start}");
    fs::write(
        lib,
        text.replacen(start, &format!("{allowed}mod mutant;\n{start}"), 1),
    )
    .unwrap();
    println!("{}", Value::Object(report));
}
