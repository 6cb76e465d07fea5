"""Choosing landings: which conductor lands where, with the splices and jumpers that it takes."""
