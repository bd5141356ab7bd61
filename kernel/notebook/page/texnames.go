package page

// The LaTeX commands that stand for one sign, by the kind of MathML element
// that holds it.

var texLetters = map[string]string{
	"alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "epsilon": "ϵ", "varepsilon": "ε",
	"zeta": "ζ", "eta": "η", "theta": "θ", "vartheta": "ϑ", "iota": "ι", "kappa": "κ", "lambda": "λ",
	"mu": "μ", "nu": "ν", "xi": "ξ", "pi": "π", "rho": "ρ", "varrho": "ϱ", "sigma": "σ", "tau": "τ",
	"upsilon": "υ", "phi": "ϕ", "varphi": "φ", "chi": "χ", "psi": "ψ", "omega": "ω",
	"Gamma": "Γ", "Delta": "Δ", "Theta": "Θ", "Lambda": "Λ", "Xi": "Ξ", "Pi": "Π", "Sigma": "Σ",
	"Upsilon": "Υ", "Phi": "Φ", "Psi": "Ψ", "Omega": "Ω",
	"infty": "∞", "partial": "∂", "nabla": "∇", "ell": "ℓ", "hbar": "ℏ", "Re": "ℜ", "Im": "ℑ",
	"degree": "°", "%": "%", "$": "$", "#": "#", "_": "_", "imath": "ı", "jmath": "ȷ", "emptyset": "∅",
}

var texOperators = map[string]string{
	"cdot": "⋅", "times": "×", "div": "÷", "pm": "±", "mp": "∓", "ast": "∗", "star": "⋆", "circ": "∘",
	"le": "≤", "leq": "≤", "ge": "≥", "geq": "≥", "ne": "≠", "neq": "≠", "ll": "≪", "gg": "≫",
	"approx": "≈", "sim": "∼", "simeq": "≃", "equiv": "≡", "propto": "∝", "lesssim": "≲", "gtrsim": "≳",
	"to": "→", "rightarrow": "→", "leftarrow": "←", "Rightarrow": "⇒", "Leftarrow": "⇐",
	"leftrightarrow": "↔", "Leftrightarrow": "⇔", "implies": "⟹", "iff": "⟺", "mapsto": "↦",
	"in": "∈", "notin": "∉", "subset": "⊂", "cup": "∪", "cap": "∩", "forall": "∀", "exists": "∃",
	"land": "∧", "lor": "∨", "neg": "¬", "mid": "|", "parallel": "∥", "perp": "⊥",
	"ldots": "…", "dots": "…", "cdots": "⋯", "vdots": "⋮", "colon": ":",
	"{": "{", "}": "}", "lbrace": "{", "rbrace": "}", "lbrack": "[", "rbrack": "]",
	"langle": "⟨", "rangle": "⟩", "lfloor": "⌊", "rfloor": "⌋", "lceil": "⌈", "rceil": "⌉",
	"vert": "|", "Vert": "‖", "|": "‖", "lvert": "|", "rvert": "|", "lVert": "‖", "rVert": "‖",
	"int": "∫", "oint": "∮", "backslash": "\\", "&": "&amp;", "prime": "′",
}

// texLarge take their scripts above and below.
var texLarge = map[string]string{"sum": "∑", "prod": "∏", "bigcup": "⋃", "bigcap": "⋂"}

var texAccents = map[string]string{
	"hat": "^", "widehat": "^", "bar": "‾", "tilde": "~", "widetilde": "~", "vec": "→", "dot": "˙", "ddot": "¨",
}

var texSpaces = map[string]string{
	",": "0.17em", ":": "0.22em", ">": "0.22em", ";": "0.28em", "!": "-0.17em", " ": "0.33em",
	"quad": "1em", "qquad": "2em", "enspace": "0.5em", "thinspace": "0.17em",
}

var texFunctions = map[string]bool{
	"sin": true, "cos": true, "tan": true, "cot": true, "arcsin": true, "arccos": true, "arctan": true,
	"sinh": true, "cosh": true, "tanh": true, "exp": true, "ln": true, "log": true, "lg": true,
	"lim": true, "max": true, "min": true, "arg": true, "det": true, "gcd": true, "sgn": true, "sinc": true,
}
