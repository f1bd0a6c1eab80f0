"""The neutral drawing, which knows neither the trade's records nor any file format.

``entities`` says what can be drawn, ``layers`` on which layer and how it looks, ``blocks`` the symbols, ``fonts`` how
wide text is, ``plain`` takes dimensions, symbols and hatches apart for writers whose format has none.
"""
