"""An offer compiled to JSGF (Java Speech Grammar Format 1.0) for PocketSphinx."""

from grammar.offer import Offer
from grammar.sentences import Alt, Node, Opt, Seq, sentences


def jsgf(offer: Offer, name: str = "sweepsay") -> str:
    """The grammar text; every rule that it refers to is defined in it.

    PocketSphinx accepts a reference to an undefined rule in silence and then hears
    nothing, which is why rules are made here from the tree and never written by hand.
    """
    return render(sentences(offer), name)


def render(root: Alt, name: str = "sweepsay") -> str:
    """The JSGF text of any tree of sentences."""
    rules: dict[str, str] = {}
    body = _collect(root, rules, root=True)
    lines = ["#JSGF V1.0;", f"grammar {name};", f"public <{root.name}> = {body};"]
    lines += [f"<{rule}> = {text};" for rule, text in rules.items()]
    return "\n".join(lines) + "\n"


def _collect(node: Node, rules: dict[str, str], *, root: bool = False) -> str:
    match node:
        case str():
            return node
        case Seq(parts=parts):
            return " ".join(_collect(part, rules) for part in parts)
        case Opt(part=part):
            return f"[ {_collect(part, rules)} ]"
        case Alt(choices=choices, name=name):
            body = " | ".join(_collect(choice, rules) for choice in choices)
            if not name or root:
                return body if root else f"( {body} )"
            if rules.setdefault(name, body) != body:
                raise ValueError(f"two rules are called {name}")
            return f"<{name}>"
