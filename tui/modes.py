"""The places that a digit leads to, in the order of the bar. A mode stands here once its screen exists."""

from tui.workplace import Mode

MODES = (
    Mode("1", "today", "Today", "tui.screens.today:TodayScreen", verbs=(("Book out a visit", "book_out"),)),
    Mode("2", "visits", "Visits", "tui.screens.visits:VisitsScreen",
         verbs=(("Plan a visit", "plan"), ("To the laboratory", "laboratory"))),
    Mode("3", "trays", "Trays", "tui.screens.trays:TraysScreen",
         verbs=(("Buy trays next", "buy_next"), ("Tray sizes fitted, as a picture", "fitted"))),
    Mode("4", "week", "Week", "tui.screens.week:WeekScreen",
         verbs=(("Order from suppliers", "orders"), ("What if", "what_if"), ("Recalls", "recalls"),
                ("Take expired stock off the shelves", "expired_walk"),
                ("What steps take", "estimates"),
                ("Lots until their last day, as a picture", "lots"))),
    Mode("5", "stock", "Stock", "tui.screens.stock:ItemsScreen",
         verbs=(("Receive a delivery", "receive"), ("Count stock", "count"),
                ("What stands where; top an operatory up", "by_place"),
                ("Shelf labels of an item, as PDF", "labels"),
                ("Forecast of an item, as a picture", "pictures"),
                ("Use and waste", "usage"), ("What to count how often", "classes"))),
    Mode("6", "history", "History", "tui.screens.history:HistoryScreen"),
)  # fmt: skip
