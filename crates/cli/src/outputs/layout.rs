//! What text, sheet and calendar say of the steps of a plan beside their sentences: times and weights.

use super::PlanView;
use crate::render::{counted, time};
use pointage_api::steps::{Action, Amount, Step};

/// What is weighed: a column for each mix, a row for each ingredient.
pub struct Weights {
    pub columns: Vec<String>,
    pub rows: Vec<(String, Vec<String>)>,
}

impl<'a> PlanView<'a> {
    /// The steps that are listed; the others stand in the [`details`](Self::details) of the one they follow.
    pub fn listed(self) -> impl Iterator<Item = &'a Step<f64>> {
        let follows = move |step: &Step<f64>| match step.action {
            Action::LoadOut { .. } | Action::BenchRest { .. } => true,
            Action::IntoRetarder { .. } => self.steps.iter().any(|s| self.chills(s) == Some(step)),
            _ => false,
        };
        self.steps.iter().filter(move |s| !follows(s))
    }

    /// The way into the retarder that follows the shaping of the same loads.
    fn chills(&self, shape: &Step<f64>) -> Option<&'a Step<f64>> {
        let Action::Shape { loads } = shape.action else {
            return None;
        };
        let follows = |s: &&Step<f64>| {
            s.action == Action::IntoRetarder { loads } && (s.start - shape.end).abs() < 1.0 / 60.0
        };
        self.steps.iter().find(follows)
    }

    /// `24 pieces of 780 g in 3 loads`
    pub fn pieces(&self) -> String {
        let loads = counted(self.plan.loads.len(), "load", "loads");
        let piece = self.weight(self.bake.piece.as_grams());
        format!("{} pieces of {piece} in {loads}", self.bake.pieces)
    }

    /// `Work starts Fri 15:40, first bread Sat 09:00, last 10:40.`
    pub fn summary(&self) -> String {
        let Some((first, last)) = self.plan.loads.first().zip(self.plan.loads.last()) else {
            return String::new();
        };
        let beside = |h, day| self.calendar.time_beside(h, day);
        let hands = self.steps.iter().find(|s| s.hands);
        let hands = hands.map_or(first.divide_h, |s| s.start);
        let (first_h, last_h) = (first.oven_out_h, last.oven_out_h);
        let (hands, bread) = (self.calendar.dated(hands), beside(first_h, hands));
        match last.number {
            1 => format!("Work starts {hands}, first bread {bread}."),
            _ => format!(
                "Work starts {hands}, first bread {bread}, last {}.",
                beside(last_h, first_h)
            ),
        }
    }

    /// `pour at 26 °C; dough at 23.5 °C`: all that is to be known of a step, but for its weights.
    pub fn details(&self, step: &Step<f64>) -> String {
        [self.doing(step), self.looking(step)].concat().join("; ")
    }

    /// `pour at 26 °C`, `out 09:00`, `then retarder 6 °C, 1 h 17`: what is done with a step.
    pub fn doing(&self, step: &Step<f64>) -> Vec<String> {
        let mut parts: Vec<String> = Vec::new();
        match (step.action, step.until) {
            (Action::LoadIn { .. }, Some(until)) => {
                let until = self.calendar.time_beside(until, step.start);
                parts.push(format!("out {until}"));
            }
            (Action::Divide { loads }, _) if loads.first == 1 => {
                parts.extend(self.steps.iter().find_map(|s| match s.action {
                    Action::BenchRest { min } => Some(format!("then rest {min:.0} min")),
                    _ => None,
                }));
            }
            _ => {}
        }
        let chilled = self.chills(step);
        let cold = chilled.unwrap_or(step);
        if let Action::IntoRetarder { .. }
        | Action::DoughIntoCold { .. }
        | Action::PrefermentIntoCold { .. } = cold.action
        {
            let then = chilled.map_or("", |_| "then retarder ");
            let place = cold.place_c.map(|c| format!("{c:.0} °C"));
            let stays = cold.until.map(|until| time(until - cold.start));
            let stay: Vec<String> = place.into_iter().chain(stays).collect();
            parts.push(then.to_owned() + &stay.join(", "));
        }
        let ice = step.amounts.iter().find(|a| a.name == "ice");
        for amount in &step.amounts {
            match (amount.name.as_str(), amount.pour_c, ice) {
                ("water", Some(c), Some(ice)) => {
                    let ice = self.weight(ice.mass_g);
                    parts.push(format!("{ice} of ice in water at {c:.0} °C"));
                }
                ("water", Some(c), None) => parts.push(format!("pour at {c:.0} °C")),
                ("bassinage", Some(c), _) => parts.push(format!("bassinage last, at {c:.0} °C")),
                _ => {}
            }
        }
        parts
    }

    /// `dough at 22 °C`, `ripe Sat 02:48`: what to look for, and when.
    pub fn looking(&self, step: &Step<f64>) -> Vec<String> {
        let mut parts: Vec<String> = Vec::new();
        // What is the same for every load is said once.
        let again = |s: &Step<f64>| s.start < step.start && s.look_for == step.look_for;
        let load = matches!(step.action, Action::LoadIn { .. });
        if !(load && self.steps.iter().any(again)) {
            parts.extend(step.look_for.as_ref().map(ToString::to_string));
        }
        if let Some(ready) = &step.ready {
            if let Some((from, until)) = ready.usable {
                // What is used the moment it is ripe has its hour in the next line.
                let used =
                    |s: &Step<f64>| s.start > step.start && (s.start - ready.at).abs() < 1.0 / 60.0;
                let next = until.is_some() && self.steps.iter().any(used);
                if !next {
                    let ripe = self.calendar.time_beside(ready.at, step.start);
                    parts.push(format!("ripe {ripe}"));
                }
                let beside = if next { step.start } else { ready.at };
                let good = |until| format!("good {}", self.span(from, until, beside));
                parts.extend(until.map(good));
            }
            // A minute either way is no news.
            let likely = ready.likely.filter(|[low, high]| high - low >= 2.0 / 60.0);
            let known = ready.usable.map_or(step.start, |_| ready.at);
            parts.extend(likely.map(|[a, b]| format!("likely {}", self.span(a, b, known))));
        }
        parts
    }

    /// `Sat 00:41 to 07:38`
    fn span(&self, from: f64, until: f64, beside: f64) -> String {
        let from_text = self.calendar.time_beside(from, beside);
        format!("{from_text} to {}", self.calendar.time_beside(until, from))
    }

    /// A mass in steps of the bake's scale.
    pub fn weight(&self, g: f64) -> String {
        // What the scale cannot show is still something.
        let step = match self.bake.kitchen.scale_step.as_grams() {
            step if g > 0.0 && g < step => 0.01,
            step => step,
        };
        let rounded = (g / step).round() * step;
        match (rounded, step) {
            (kg, _) if kg >= 10_000.0 => format!("{:.2} kg", kg / 1000.0),
            (g, step) if step >= 1.0 => format!("{g:.0} g"),
            (g, step) if step >= 0.1 => format!("{g:.1} g"),
            (g, _) => format!("{g:.2} g"),
        }
    }

    /// `water 3968 g, salt 220 g`
    pub fn amounts(&self, step: &Step<f64>) -> String {
        let amount = |a: &Amount| format!("{} {}", a.name, self.weight(a.mass_g));
        let all: Vec<String> = step.amounts.iter().map(amount).collect();
        all.join(", ")
    }

    /// What is mixed in a step, and which batch of it.
    fn mix(step: &Step<f64>) -> (&str, Option<u32>) {
        let (mix, of_batch) = match step.action {
            Action::MixPreferment { preferment } => (preferment, None),
            Action::Autolyse { of_batch, .. } => ("autolyse", of_batch),
            Action::Mix { of_batch, .. } => ("mix", of_batch),
            _ => ("mix", None),
        };
        (mix, of_batch.map(|[batch, _]| batch))
    }

    /// `autolyse`, or `mix 1,2`.
    fn title(mix: &str, batches: impl IntoIterator<Item = u32>) -> String {
        let batches: Vec<_> = batches.into_iter().map(|n| n.to_string()).collect();
        format!("{mix} {}", batches.join(",")).trim_end().to_owned()
    }

    pub fn weights(&self) -> Weights {
        let mixes = || self.steps.iter().filter(|s| !s.amounts.is_empty());
        let mut names: Vec<&str> = Vec::new();
        for amount in mixes().flat_map(|s| &s.amounts) {
            if !names.contains(&amount.name.as_str()) {
                names.push(&amount.name);
            }
        }
        let weight = |step: &Step<f64>, name: &str| {
            let of = step.amounts.iter().filter(|a| a.name == name);
            let all = of.map(|a| a.mass_g).reduce(|a, b| a + b);
            all.map_or(String::new(), |g| self.weight(g))
        };
        // Batches that weigh the same share a column.
        let mut columns: Vec<(&str, Vec<u32>, Vec<String>)> = Vec::new();
        for step in mixes() {
            let (mix, batch) = Self::mix(step);
            let cells: Vec<_> = names.iter().map(|name| weight(step, name)).collect();
            let same = columns.iter_mut().find(|c| c.0 == mix && c.2 == cells);
            match (same, batch) {
                (Some(same), Some(batch)) => same.1.push(batch),
                _ => columns.push((mix, Vec::from_iter(batch), cells)),
            }
        }
        let row = |(i, name): (usize, &&str)| {
            let cells = columns.iter().map(|(.., cells)| cells[i].clone());
            (name.to_string(), cells.collect())
        };
        Weights {
            rows: names.iter().enumerate().map(row).collect(),
            columns: columns
                .into_iter()
                .map(|(mix, batches, _)| Self::title(mix, batches))
                .collect(),
        }
    }

    /// The mixes with what is poured into them.
    pub fn mixes(&self) -> impl Iterator<Item = (&'a Step<f64>, String)> {
        let mixes = self.steps.iter().filter(|s| !s.amounts.is_empty());
        mixes.map(|step| {
            let (mix, batch) = Self::mix(step);
            (step, Self::title(mix, batch))
        })
    }
}
